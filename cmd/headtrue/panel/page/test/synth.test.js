// cue-samples.json is every 499th sample that the Go synthesiser (sweep/cue) makes of the same
// requests with the same seed, cut to six digits.
import test from 'node:test';
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { Synth, distanceOf } from '../synth.js';

const golden = JSON.parse(readFileSync(new URL('cue-samples.json', import.meta.url)));

test('the sounds are those of the program', () => {
  const synth = new Synth(golden.rate, golden.seed);
  for (const part of golden.parts) {
    synth.set(part.request);
    const out = new Float32Array(part.frames);
    synth.render(out);
    let loudest = 0;
    part.samples.forEach((want, i) => {
      const got = out[i * golden.every];
      loudest = Math.max(loudest, Math.abs(want));
      assert.ok(Math.abs(got - want) < 5e-6, `${part.request.act}: sample ${i * golden.every} is ${got}, want ${want}`);
    });
    assert.ok(loudest > 0.01, `${part.request.act} is silent`);
  }
});

test('without a request for one second the sound ends', () => {
  const synth = new Synth(48000, 1);
  synth.set({ act: 'hold', isNew: true, off: null, tolerance: 0.5 });
  synth.render(new Float32Array(48000 * 1.1));
  const late = new Float32Array(48000);
  synth.render(late);
  assert.equal(Math.max(...late.map(Math.abs)), 0);
});

test('below and above the target never share a pitch', () => {
  for (const off of [0.01, 0.4, 1, 5, 40, 1000]) {
    assert.ok(distanceOf({ off: -off, tolerance: 0.5 }).hz <= 860);
    assert.ok(distanceOf({ off, tolerance: 0.5 }).hz >= 1300);
  }
  assert.equal(distanceOf({ off: null, tolerance: 0.5 }), null);
});
