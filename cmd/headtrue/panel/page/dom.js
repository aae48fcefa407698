// Making and changing elements. Only what has changed is written.
import { words } from './words.en.js';
import { fill } from './format.js';

// t returns a text of the catalogue by its name, with values filled in.
export function t(name, values) {
  let text = words;
  for (const part of name.split('.')) text = text?.[part];
  return typeof text === 'string' ? fill(text, values) : name;
}

// has reports whether the catalogue has a name.
export function has(name) {
  return t(name) !== name;
}

export const id = name => document.getElementById(name);

// h makes an element: h('p.soft', {title: ...}, children...). A property on... is a listener.
export function h(tag, props = {}, ...children) {
  const [name, ...classes] = tag.split('.');
  const el = document.createElement(name);
  if (classes.length) el.className = classes.join(' ');
  for (const [key, value] of Object.entries(props)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith('on')) el.addEventListener(key.slice(2), value);
    else if (key in el && typeof value !== 'string') el[key] = value;
    else el.setAttribute(key, value === true ? '' : value);
  }
  el.append(...children.flat().filter(c => c !== null && c !== undefined && c !== false));
  return el;
}

// write sets a text if it differs; the node that holds it stays, so that nothing is left to collect.
export function write(el, text) {
  if (el.textContent === text) return;
  const only = el.childNodes.length === 1 && el.firstChild.nodeType === Node.TEXT_NODE;
  if (only) el.firstChild.data = text;
  else el.textContent = text;
}

export function label(el, text) {
  if (el.getAttribute('aria-label') !== text) el.setAttribute('aria-label', text);
}

export function show(el, yes) {
  if (el.hidden === yes) el.hidden = !yes;
}

// attribute sets an attribute if it differs.
export function attribute(el, name, value) {
  if (el.getAttribute(name) !== value) el.setAttribute(name, value);
}

// translate fills the fixed words of the page in.
export function translate(root) {
  for (const el of root.querySelectorAll('[data-w]')) el.textContent = t(el.dataset.w);
  for (const el of root.querySelectorAll('[data-label]')) el.setAttribute('aria-label', t(el.dataset.label));
}

// button makes a button that acts when it is pressed.
export const button = (text, act, props = {}) => h('button', { type: 'button', onclick: act, ...props }, text);

// table makes a table of texts; a cell may be an element. head is a list of column names.
export function table(caption, head, rows) {
  const cell = (c, tag = 'td', props = {}) => h(tag, props, c ?? '');
  return h('table', {},
    caption ? h('caption.hush', {}, caption) : null,
    head ? h('thead', {}, h('tr', {}, head.map(c => cell(c, 'th', { scope: 'col' })))) : null,
    h('tbody', {}, rows.map(row => h('tr', {}, row.map((c, i) => i === 0 ? cell(c, 'th', { scope: 'row' }) : cell(c))))));
}

// Rows is a table of names and texts that change often: its cells are kept and written anew.
export class Rows {
  constructor(root, names) {
    this.cells = names.map(name => {
      const td = h('td');
      root.append(h('tr', {}, h('th', { scope: 'row' }, name), td));
      return td;
    });
  }

  write(i, text) { write(this.cells[i], text); }
}
