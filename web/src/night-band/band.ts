// Geometry of the night band: from times and altitudes to places on it.
import { utc } from '../base/format';

export interface Frame {
  begin: number; // ms
  end: number;
  width: number;
  height: number; // of the part that altitudes use
}

export const timeAt = (frame: Frame, x: number): number => frame.begin + (x / frame.width) * (frame.end - frame.begin);
export const xOf = (frame: Frame, ms: number): number => ((ms - frame.begin) / (frame.end - frame.begin)) * frame.width;
// The horizon lies at the bottom, the zenith a little below the top.
export const yOf = (frame: Frame, altitudeDeg: number): number =>
  frame.height - (Math.max(0, altitudeDeg) / 90) * (frame.height - 10);

// An SVG path through the altitudes, left out where they lie below the horizon.
export function curve(frame: Frame, at: string[], altitudes: number[]): string {
  let path = '';
  let open = false;
  at.forEach((time, i) => {
    const altitude = altitudes[i] ?? -90;
    if (altitude < 0) {
      open = false;
      return;
    }
    path += `${open ? 'L' : 'M'}${xOf(frame, utc(time)).toFixed(1)} ${yOf(frame, altitude).toFixed(1)}`;
    open = true;
  });
  return path;
}

// The same, closed down to the horizon.
export function area(frame: Frame, at: string[], altitudes: number[]): string {
  const points = at.map(
    (time, i) => `${xOf(frame, utc(time)).toFixed(1)} ${yOf(frame, altitudes[i] ?? 0).toFixed(1)}`,
  );
  const first = at[0];
  const last = at[at.length - 1];
  if (first === undefined || last === undefined) return '';
  return `M${xOf(frame, utc(first)).toFixed(1)} ${frame.height}L${points.join('L')}L${xOf(frame, utc(last)).toFixed(1)} ${frame.height}Z`;
}

// The value between the steps that lie around a moment.
export function between(at: string[], values: number[], ms: number): number | null {
  const after = at.findIndex((t) => utc(t) >= ms);
  if (after < 0) return values[values.length - 1] ?? null;
  const high = values[after];
  const low = values[after - 1];
  if (high === undefined) return null;
  if (low === undefined) return high;
  const begin = utc(at[after - 1]!);
  return low + ((high - low) * (ms - begin)) / (utc(at[after]!) - begin);
}

export interface Came {
  start: string;
  filter: string;
  accepted: boolean;
  exposure_s: number | null;
  equivalent_min: number | null;
}
export interface Bar<T> {
  frame: T;
  x: number;
  width: number;
  share: number; // of the best of its filter, 0..1: what it was worth for its time
}
// The frames as they came: where each lies on the band, and how good it was.
export function record<T extends Came>(frame: Frame, frames: T[]): Bar<T>[] {
  const worth = (f: T): number => (f.equivalent_min ?? 0) / Math.max(1e-9, (f.exposure_s ?? 0) / 60);
  const best = new Map<string, number>();
  for (const f of frames) best.set(f.filter, Math.max(best.get(f.filter) ?? 1e-9, worth(f)));
  return frames
    .filter((f) => f.start !== '')
    .map((f) => {
      const x = xOf(frame, utc(f.start));
      const end = xOf(frame, utc(f.start) + 1000 * (f.exposure_s ?? 0));
      return { frame: f, x, width: Math.max(1.5, end - x - 1), share: Math.min(1, worth(f) / best.get(f.filter)!) };
    })
    .filter((b) => b.x >= 0 && b.x <= frame.width);
}

// Colour of the sky at an altitude of the Sun, between these.
const kTones: [number, [number, number, number]][] = [
  [0, [231, 168, 134]],
  [-3, [176, 108, 134]],
  [-6, [104, 84, 134]],
  [-12, [38, 44, 88]],
  [-18, [15, 20, 42]],
];
const kRed: [number, [number, number, number]][] = [
  [0, [58, 0, 0]],
  [-12, [22, 0, 0]],
  [-18, [0, 0, 0]],
];
export function tone(sunAltitudeDeg: number, red: boolean): string {
  const tones = red ? kRed : kTones;
  const first = tones[0]!;
  const last = tones[tones.length - 1]!;
  if (sunAltitudeDeg >= first[0]) return `rgb(${first[1].join(' ')})`;
  for (let i = 1; i < tones.length; ++i) {
    const [low, a] = tones[i]!;
    const [high, b] = tones[i - 1]!;
    if (sunAltitudeDeg < low) continue;
    const share = (sunAltitudeDeg - low) / (high - low);
    return `rgb(${a.map((v, k) => Math.round(v + share * (b[k]! - v))).join(' ')})`;
  }
  return `rgb(${last[1].join(' ')})`;
}

// Where each curve gets its name: at its highest point, moved aside when another name stands there.
export function labels(
  frame: Frame,
  at: string[],
  curves: { name: string; altitudes: number[] }[],
): { name: string; x: number; y: number }[] {
  const placed: { name: string; x: number; y: number }[] = [];
  for (const { name, altitudes } of curves) {
    const order = altitudes.map((_, i) => i).sort((a, b) => altitudes[b]! - altitudes[a]!);
    const half = name.length * 4.2 + 4;
    for (const i of order) {
      if (altitudes[i]! < 3) break;
      const x = Math.min(frame.width - half, Math.max(half, xOf(frame, utc(at[i]!))));
      const y = Math.max(14, yOf(frame, altitudes[i]!) - 6);
      if (placed.some((p) => Math.abs(p.x - x) < half + p.name.length * 4.2 + 4 && Math.abs(p.y - y) < 15)) continue;
      placed.push({ name, x, y });
      break;
    }
  }
  return placed;
}

// Full hours of the site's clock within the band; every second one where they would crowd.
export function hourTicks(frame: Frame, zone: string): { x: number; label: string }[] {
  const format = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', timeZone: zone });
  const ticks: { x: number; label: string }[] = [];
  const quarter = 900_000;
  for (let ms = Math.ceil(frame.begin / quarter) * quarter; ms < frame.end; ms += quarter) {
    const clock = format.format(ms);
    if (clock.endsWith(':00')) ticks.push({ x: xOf(frame, ms), label: clock.slice(0, 2) });
  }
  const step = Math.ceil((ticks.length * 34) / Math.max(1, frame.width));
  return ticks.filter((t, i) => i % step === 0 && t.x > 12 && t.x < frame.width - 12);
}
