// Where things stand in the sky of a site, good to a tenth of a degree: for drawings. Numbers come from the services.
const kRad = Math.PI / 180;
// Sidereal over solar time (Astronomical Almanac: 1.00273791).
const kSidereal = 1.00273791;

export interface Horizontal {
  altitude: number; // degrees, without refraction
  azimuth: number; // degrees from north through east
}

export function horizontal(hourAngleDeg: number, decDeg: number, latitudeDeg: number): Horizontal {
  const h = hourAngleDeg * kRad;
  const d = decDeg * kRad;
  const p = latitudeDeg * kRad;
  const sine = Math.sin(p) * Math.sin(d) + Math.cos(p) * Math.cos(d) * Math.cos(h);
  const azimuth = Math.atan2(-Math.cos(d) * Math.sin(h), Math.sin(d) * Math.cos(p) - Math.cos(d) * Math.sin(p) * Math.cos(h));
  return { altitude: Math.asin(Math.min(1, Math.max(-1, sine))) / kRad, azimuth: (azimuth / kRad + 360) % 360 };
}

// Degrees that the sky has turned in a time, ms.
export const turned = (ms: number): number => (ms / 3_600_000) * 15 * kSidereal;

// Altitudes over a night of something that crosses the meridian at `transit`.
export function altitudes(begin: number, end: number, count: number, transit: number, decDeg: number, latitudeDeg: number): number[] {
  return Array.from({ length: count }, (_, i) => {
    const ms = begin + ((end - begin) * i) / (count - 1);
    return horizontal(turned(ms - transit), decDeg, latitudeDeg).altitude;
  });
}

// The dome seen from below: zenith in the middle, horizon at 1, north up, east to the left.
export function onDome({ altitude, azimuth }: Horizontal): { x: number; y: number } {
  const r = (90 - altitude) / 90;
  return { x: -r * Math.sin(azimuth * kRad), y: -r * Math.cos(azimuth * kRad) };
}
