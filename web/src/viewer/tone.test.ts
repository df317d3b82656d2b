import { describe, expect, it } from 'vitest';
import { histogramPath, kTone, shown, toValue } from './tone';

describe('tone', () => {
  it('is black at the black point, white at the white one, rising between', () => {
    const at = (u: number) => shown(toValue(u, 600, 8), 600, 8, kTone);
    expect(at(kTone.black)).toBeCloseTo(0, 12);
    expect(at(kTone.white)).toBeCloseTo(1, 12);
    expect(at(20)).toBe(1);
    let last = -1;
    for (let u = kTone.black; u < kTone.white; u += 0.1) {
      expect(at(u)).toBeGreaterThan(last);
      last = at(u);
    }
  });
  it('does not divide by nothing when black meets white', () => {
    expect(Number.isFinite(shown(600, 600, 8, { ...kTone, black: 3, white: 3 }))).toBe(true);
  });
  it('draws a histogram within its box', () => {
    expect(histogramPath([0, 10, 5, 0], 40, 100, false)).toBe('M0 100L0.0 100.0L10.0 0.0L20.0 50.0L30.0 100.0L40 100Z');
    expect(histogramPath([0, 99, 9], 30, 100, true)).toBe('M0 100L0.0 100.0L10.0 0.0L20.0 50.0L30 100Z');
  });
});
