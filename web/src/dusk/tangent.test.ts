import { describe, expect, it } from 'vitest';
import { inField, onPlane } from './tangent';

describe('tangent plane', () => {
  it('has its own place in the middle, north up and east left', () => {
    expect(onPlane(10, 40, 10, 40)).toEqual({ x: -0, y: -0 });
    const north = onPlane(10, 41, 10, 40)!;
    expect(north.x).toBeCloseTo(0, 12);
    // tan(1 degree) in degrees of the plane
    expect(north.y).toBeCloseTo(-1.000102, 6);
    expect(onPlane(11, 40, 10, 40)!.x).toBeLessThan(0);
  });
  it('does not show the other side of the sky', () => {
    expect(onPlane(190, -40, 10, 40)).toBeNull();
  });
  it('passes over the hour of zero', () => {
    expect(onPlane(359.5, 0, 0.5, 0)!.x).toBeCloseTo(1.000102, 5);
  });
  it('turns steps into those of the picture', () => {
    // Upper side north: west is right, north is up. Upper side east: north is right, east is up.
    expect(inField({ x: 1, y: 0 }, 0).right).toBeCloseTo(1, 12);
    expect(inField({ x: 0, y: -1 }, 0).up).toBeCloseTo(1, 12);
    expect(inField({ x: 0, y: -1 }, 90).right).toBeCloseTo(1, 12);
    expect(inField({ x: -1, y: 0 }, 90).up).toBeCloseTo(1, 12);
  });
});
