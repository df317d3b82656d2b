import { describe, expect, it } from 'vitest';
import { bounded, gridPlace, levelFor, tilesInSight, whole, zoomedAt } from './view';
import { moved, registered } from './placement';

const image = { x: 0, y: 0, width: 4240, height: 2832 };
const straight = moved(0, 0);
const screen = { width: 1060, height: 708 };

describe('view', () => {
  it('shows the whole image', () => {
    const view = whole(image, screen);
    expect(view.scale).toBe(0.25);
    expect(gridPlace(view, screen, 0, 0)).toEqual({ x: 0, y: 0 });
    expect(gridPlace(view, screen, 1060, 708)).toEqual({ x: 4240, y: 2832 });
  });
  it('keeps the place under the pointer while zooming', () => {
    const view = { scale: 0.7, x: 900, y: 1200 };
    const before = gridPlace(view, screen, 200, 650);
    const after = gridPlace(zoomedAt(view, screen, 200, 650, 3.1), screen, 200, 650);
    expect(after.x).toBeCloseTo(before.x, 9);
    expect(after.y).toBeCloseTo(before.y, 9);
  });
  it('neither loses the image nor goes into nothing', () => {
    expect(bounded({ scale: 1e-6, x: -50, y: 9e9 }, image, screen)).toEqual({ scale: 0.125, x: 0, y: 2832 });
    expect(bounded({ scale: 99, x: 1, y: 1 }, image, screen).scale).toBe(32);
  });
  it('takes the level that fits', () => {
    expect([4, 1, 0.5, 0.4, 0.25, 0.01].map((s) => levelFor(s, 6))).toEqual([0, 0, 1, 1, 2, 5]);
  });
  it('asks for the tiles in sight alone', () => {
    expect(tilesInSight(whole(image, screen), straight, image, screen, 2, 256)).toHaveLength(5 * 3);
    expect(tilesInSight({ scale: 1, x: 128, y: 128 }, straight, image, { width: 200, height: 200 }, 0, 256)).toEqual([
      { level: 0, column: 0, row: 0 },
    ]);
    expect(tilesInSight({ scale: 1, x: 4240, y: 2832 }, straight, image, { width: 20, height: 20 }, 0, 256)).toEqual([
      { level: 0, column: 16, row: 11 },
    ]);
  });
  it('finds the tiles of an image that is turned and moved', () => {
    // Half a turn about the middle of the image: its first tile lies at the end of the grid.
    const turned = registered([-1, 0, 4239, 0, -1, 2831]);
    expect(tilesInSight({ scale: 1, x: 4230, y: 2822 }, turned, image, { width: 20, height: 20 }, 0, 256)).toEqual([
      { level: 0, column: 0, row: 0 },
    ]);
    expect(tilesInSight({ scale: 1, x: 4230, y: 2822 }, moved(9000, 0), image, { width: 20, height: 20 }, 0, 256)).toEqual([]);
  });
});
