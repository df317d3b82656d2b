import { describe, expect, it } from 'vitest';
import { added, path, xOf, yOf } from './exposure';

describe('noise of short exposures', () => {
  // t = R^2 / (B ((1 + e)^2 - 1)) adds the share e (derived from the sum of variances).
  it('is the share that the shortest useful exposure is chosen by', () => {
    const noise = { background_e_s: 2.4, read_noise_e: 1.5 };
    for (const share of [0.02, 0.05, 0.2]) {
      const seconds = 1.5 ** 2 / (2.4 * ((1 + share) ** 2 - 1));
      expect(added(noise, seconds)).toBeCloseTo(share, 12);
    }
  });
  it('is drawn within its axes', () => {
    const axes = { width: 300, height: 90, shortest: 1, longest: 1000, top: 0.3 };
    expect(xOf(axes, 1)).toBe(0);
    expect(xOf(axes, 10)).toBeCloseTo(100, 9);
    expect(yOf(axes, 9)).toBe(0);
    expect(yOf(axes, 0)).toBe(90);
    expect(path({ background_e_s: 1, read_noise_e: 0 }, axes).startsWith('M0.0 90.0L')).toBe(true);
  });
});
