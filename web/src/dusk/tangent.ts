// The sky around a place, on the plane that touches it there (gnomonic): degrees, east to the left, north up.
const kRad = Math.PI / 180;

export function onPlane(raDeg: number, decDeg: number, ra0Deg: number, dec0Deg: number): { x: number; y: number } | null {
  const a = (raDeg - ra0Deg) * kRad;
  const d = decDeg * kRad;
  const d0 = dec0Deg * kRad;
  const c = Math.sin(d0) * Math.sin(d) + Math.cos(d0) * Math.cos(d) * Math.cos(a);
  if (c <= 0.01) return null;
  return {
    x: (-(Math.cos(d) * Math.sin(a)) / c) / kRad,
    y: (-(Math.cos(d0) * Math.sin(d) - Math.sin(d0) * Math.cos(d) * Math.cos(a)) / c) / kRad,
  };
}
