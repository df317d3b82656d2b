// Where an image lies on the grid that is looked at: the pixels of a master. A master lies there as it is, a finished
// picture is cut out of it, a frame is turned and moved as it was registered.
//
// Edges count here: pixel 0 goes from 0 to 1, so that its centre is 0.5.
export interface Placement {
  a: number; b: number; c: number; // grid x = a x + b y + c
  d: number; e: number; f: number; // grid y = d x + e y + f
}
export interface Place {
  x: number;
  y: number;
}
export interface Area {
  x: number;
  y: number;
  width: number;
  height: number;
}

export const moved = (left: number, top: number): Placement => ({ a: 1, b: 0, c: left, d: 0, e: 1, f: top });

// From six numbers between centres of pixels, both counted from 0.
export function registered([a, b, c, d, e, f]: number[]): Placement {
  const [p, q, r, s, t, u] = [a ?? 1, b ?? 0, c ?? 0, d ?? 0, e ?? 1, f ?? 0];
  return { a: p, b: q, c: r + 0.5 - (p + q) / 2, d: s, e: t, f: u + 0.5 - (s + t) / 2 };
}

export const toGrid = (p: Placement, at: Place): Place => ({ x: p.a * at.x + p.b * at.y + p.c, y: p.d * at.x + p.e * at.y + p.f });

export function toImage(p: Placement, at: Place): Place {
  const determinant = p.a * p.e - p.b * p.d;
  const x = at.x - p.c;
  const y = at.y - p.f;
  return { x: (p.e * x - p.b * y) / determinant, y: (p.a * y - p.d * x) / determinant };
}

// Grid pixels on a side of an image pixel.
export const scaleOf = (p: Placement): number => Math.sqrt(Math.abs(p.a * p.e - p.b * p.d));

// The smallest upright area that holds these places.
export function around(places: Place[]): Area {
  const xs = places.map((p) => p.x);
  const ys = places.map((p) => p.y);
  const x = Math.min(...xs);
  const y = Math.min(...ys);
  return { x, y, width: Math.max(...xs) - x, height: Math.max(...ys) - y };
}

export const corners = (a: Area): Place[] => [
  { x: a.x, y: a.y }, { x: a.x + a.width, y: a.y }, { x: a.x, y: a.y + a.height }, { x: a.x + a.width, y: a.y + a.height },
];
