// All words are in the catalogue, and the catalogue has no others.
import test from 'node:test';
import assert from 'node:assert/strict';
import { readdirSync, readFileSync } from 'node:fs';
import { words } from '../words.en.js';

const here = new URL('..', import.meta.url);
const read = name => readFileSync(new URL(name, here), 'utf8');
const scripts = readdirSync(here).filter(f => f.endsWith('.js') && !f.startsWith('words.'));
const source = scripts.map(read).join('\n');
const html = read('index.html');

const names = [];
(function walk(part, path) {
  for (const [k, v] of Object.entries(part)) typeof v === 'string' ? names.push([...path, k].join('.')) : walk(v, [...path, k]);
})(words, []);

test('each name in the page and the scripts is in the catalogue', () => {
  const asked = [...html.matchAll(/data-(?:w|label)="([^"]+)"/g), ...source.matchAll(/\bt\('([\w.-]+)'/g), ...source.matchAll(/word: '([\w.]+)'/g)].map(m => m[1]).filter(n => !n.endsWith('.'));
  assert.ok(asked.length > 100);
  for (const n of asked) assert.ok(names.includes(n), `${n} is not in the catalogue`);
});

test('each group of names that is put together from parts is in the catalogue', () => {
  for (const g of [...source.matchAll(/\bt\(['`]([\w.]+)\.(?:'|\$\{)/g)].map(m => m[1])) assert.ok(names.some(n => n.startsWith(g + '.')), `${g} is no group of the catalogue`);
});

test('the page has no words of its own but the name', () => {
  const text = html.replace(/<title>headtrue<\/title>/, '').replace(/<[^>]+>/g, '').trim();
  assert.equal(text, 'headtrue');
  assert.ok(!/ (?:title|aria-label|alt|placeholder)="/.test(html));
});

test('nothing of the page comes from elsewhere, and nothing is inline', () => {
  for (const bad of [/<script(?![^>]*src=)/, /<style/, / style="/, / on\w+="/, /https?:\/\/(?!www\.w3\.org)/, /url\(/]) {
    assert.ok(!bad.test(html), `index.html has ${bad}`);
  }
  assert.ok(!/https?:\/\/(?!')/.test(source.replaceAll("'https:'", '')));
  assert.ok(!/url\(|@import/.test(read('style.css')));
});

test('each module that the page loads is fetched at once', () => {
  for (const f of scripts.concat('words.en.js')) {
    if (f !== 'worklet.js' && f !== 'synth.js') assert.ok(html.includes(`modulepreload" href="page/${f}"`), f);
  }
});
