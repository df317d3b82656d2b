import { describe, expect, it } from 'vitest';
import { around, corners, moved, registered, scaleOf, toGrid, toImage } from './placement';

describe('placement', () => {
  it('carries centres of pixels as the registration does', () => {
    // A frame turned by 90 degrees: (x, y) -> (-y + 99, x + 5), between centres.
    const p = registered([0, -1, 99, 1, 0, 5]);
    expect(toGrid(p, { x: 10.5, y: 20.5 })).toEqual({ x: 79.5, y: 15.5 });
    expect(scaleOf(p)).toBe(1);
  });
  it('goes back the way it came', () => {
    const p = registered([1.01, -0.02, 30.5, 0.021, 0.99, -12.25]);
    const there = toGrid(p, { x: 1234.5, y: 987.25 });
    const back = toImage(p, there);
    expect(back.x).toBeCloseTo(1234.5, 9);
    expect(back.y).toBeCloseTo(987.25, 9);
  });
  it('moves a cut picture to where it was cut from', () => {
    expect(toGrid(moved(88, 8), { x: 0, y: 0 })).toEqual({ x: 88, y: 8 });
    expect(around(corners({ x: 1, y: 2, width: 3, height: 4 }))).toEqual({ x: 1, y: 2, width: 3, height: 4 });
  });
});
