import test from 'node:test';
import assert from 'node:assert/strict';
import { countdown, fill, number, Steady, withUnit } from '../format.js';

test('numbers have their sign, and none at zero', () => {
  assert.equal(number(-3.14159, 2), '\u22123.14');
  assert.equal(number(3.14159, 1, true), '+3.1');
  assert.equal(number(-0.04, 1, true), '0.0');
  for (const v of [null, undefined, NaN, Infinity]) assert.equal(number(v), '\u2013');
  assert.equal(withUnit(12, 0, 's'), '12\u202fs');
  assert.equal(withUnit(1.25, 1, '\u2032', true), '+1.3\u2032');
});

test('a countdown never shows less time than is left', () => {
  assert.equal(countdown(41.2), '42\u202fs');
  assert.equal(countdown(0), '0\u202fs');
  assert.equal(countdown(-3), '0\u202fs');
  assert.equal(countdown(59.5), '1:00');
  assert.equal(countdown(3725), '1:02:05');
  assert.equal(countdown(null), '\u2013');
});

test('a figure stands still for a quarter of a second, and against a wobble of its last digit', () => {
  const s = new Steady(1, 250);
  assert.equal(s.next(1.23, 0), 1.2);
  assert.equal(s.next(5, 100), 1.2, 'too soon');
  assert.equal(s.next(1.25, 300), 1.2, 'too little');
  assert.equal(s.next(1.31, 300), 1.3);
  assert.equal(s.next(null, 310), null, 'unknown at once');
  assert.equal(s.next(2, 320), 2, 'known at once');
});

test('a sentence takes its values', () => {
  assert.equal(fill('{a} and {b}, {c}', { a: 1, b: 'x' }), '1 and x, {c}');
});
