// Saving what the program makes: it is fetched with the token and handed to the browser as a file.
import { data } from './link.js';
import { t } from './dom.js';

export function saveBlob(blob, name) {
  const url = URL.createObjectURL(blob), a = document.createElement('a');
  a.href = url;
  a.download = name;
  document.body.append(a);
  a.click();
  a.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60000);
}

export async function save(path, name, actions) {
  try {
    saveBlob(await data(path, actions.token(), 'blob'), name);
  } catch (e) {
    actions.say(t('past.failed', { say: [e.message, e.do].filter(Boolean).join(' ') }));
  }
}
