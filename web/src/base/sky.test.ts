import { describe, expect, it } from 'vitest';
import { altitudes, horizontal, onDome, turned } from './sky';

describe('the sky of a site', () => {
  it('has the culmination at 90 - |latitude - declination|, south or north of the zenith', () => {
    expect(horizontal(0, 20, 47).altitude).toBeCloseTo(63, 9);
    expect(horizontal(0, 20, 47).azimuth).toBeCloseTo(180, 9);
    expect(horizontal(0, 70, 47).altitude).toBeCloseTo(67, 9);
    expect(horizontal(0, 70, 47).azimuth).toBeCloseTo(0, 9);
  });
  it('lets the equator rise in the east and set in the west', () => {
    expect(horizontal(-90, 0, 47).altitude).toBeCloseTo(0, 9);
    expect(horizontal(-90, 0, 47).azimuth).toBeCloseTo(90, 9);
    expect(horizontal(90, 0, 47).azimuth).toBeCloseTo(270, 9);
  });
  // Meeus, Astronomical Algorithms (2nd ed. 1998), example 13.b: Venus, H = 64.352133, declination -6.719892 degrees, latitude
  // 38.921389: altitude 15.1249, azimuth 68.0337 from south, 248.0337 from north.
  it('agrees with a published place', () => {
    const venus = horizontal(64.352133, -6.719892, 38.921389);
    expect(venus.altitude).toBeCloseTo(15.1249, 3);
    expect(venus.azimuth).toBeCloseTo(248.0337, 3);
  });
  it('turns once in a sidereal day of 23 h 56 min 4.09 s', () => {
    expect(turned((23 * 3600 + 56 * 60 + 4.09) * 1000)).toBeCloseTo(360, 3);
    const curve = altitudes(0, 86_400_000, 5, 43_200_000, 20, 47);
    expect(curve[2]).toBeCloseTo(63, 6);
    expect(curve[0]).toBeCloseTo(47 + 20 - 90, 1); // the lower culmination
  });
  it('draws north up and east left', () => {
    expect(onDome({ altitude: 0, azimuth: 90 }).x).toBeCloseTo(-1, 9);
    expect(onDome({ altitude: 0, azimuth: 0 }).y).toBeCloseTo(-1, 9);
    expect(onDome({ altitude: 90, azimuth: 123 }).x).toBeCloseTo(0, 9);
  });
});
