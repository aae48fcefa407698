import test from 'node:test';
import assert from 'node:assert/strict';
import { along, Axis, guidePlace, linear, logarithmic, marks, step } from '../scales.js';

test('scales lead there and back', () => {
  const x = linear(-60, 0, 10, 310);
  assert.equal(x(-60), 10);
  assert.equal(x(0), 310);
  assert.equal(x.back(x(-12.5)), -12.5);
  const f = logarithmic(20, 20000, 0, 300);
  assert.ok(Math.abs(f(200) - 100) < 1e-9 && Math.abs(f.back(200) - 2000) < 1e-6);
});

test('marks are round', () => {
  assert.deepEqual(marks(-7, 12, 5), [-5, 0, 5, 10]);
  assert.equal(step(0.7, 5), 0.2);
  assert.equal(step(0, 5), 1);
  assert.ok(!Object.is(marks(-1, 1, 2)[1], -0));
});

test('an axis keeps still until the values leave it or need less than half of it', () => {
  const a = new Axis(10, 0.1, [-1, 1]);
  assert.deepEqual(a.of([]), [-1, 1]);
  const first = a.of([0, 20]);
  assert.deepEqual(first, [-2, 22]);
  assert.equal(a.of([1, 19]), first);
  assert.notEqual(a.of([0, 30]), first);
  assert.deepEqual(a.of([0, 5]), [-3.5, 8.5]);
});

test('the guide: equal ratios look equal, the tolerance is the zone in the middle', () => {
  assert.equal(guidePlace(0, 0.8), 0);
  assert.equal(guidePlace(0.8, 0.8), 0.16);
  assert.equal(guidePlace(-0.8, 0.8), -0.16);
  assert.equal(guidePlace(4000, 0.8), 1);
  const a = guidePlace(2, 0.8), b = guidePlace(4, 0.8), c = guidePlace(8, 0.8);
  assert.ok(Math.abs((b - a) - (c - b)) < 1e-12);
  assert.equal(guidePlace(NaN, 0.8), null);
});

test('the pointer rides on the line, and nowhere beside it', () => {
  const line = [{ x: 0, y: 0 }, { x: 2, y: 4 }, { x: 3, y: 4 }];
  assert.equal(along(line, 1), 2);
  assert.equal(along(line, 3), 4);
  assert.equal(along(line, 3.1), null);
  assert.equal(along([], 0), null);
});
