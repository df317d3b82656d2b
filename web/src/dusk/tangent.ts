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

// A step on that plane (x towards west, y towards south) as a picture sees it whose upper side lies at a position angle.
export function inField(step: { x: number; y: number }, positionAngleDeg: number): { right: number; up: number } {
  const c = Math.cos(positionAngleDeg * kRad);
  const s = Math.sin(positionAngleDeg * kRad);
  return { right: step.x * c - step.y * s, up: -step.x * s - step.y * c };
}
