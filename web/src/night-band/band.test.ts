import { describe, expect, it } from 'vitest';
import { area, between, curve, hourTicks, labels, record, tone, xOf, yOf, type Frame } from './band';

const begin = Date.parse('2026-01-14T16:00:00Z');
const frame: Frame = { begin, end: begin + 14 * 3600e3, width: 1400, height: 130 };
const at = [0, 1, 2, 3].map((h) => new Date(begin + h * 3600e3).toISOString().replace('Z', ''));

describe('the record', () => {
  const night = { begin: Date.parse('2026-01-14T16:00:00Z'), end: Date.parse('2026-01-15T06:00:00Z'), width: 840, height: 100 };
  const came = (start: string, filter: string, minutes: number | null, accepted = true) => ({ start, filter, accepted, exposure_s: 240, equivalent_min: minutes });
  it('places frames by their time and judges them among their own filter', () => {
    const bars = record(night, [came('2026-01-14T17:00:00', 'L', 4), came('2026-01-14T18:00:00', 'L', 2), came('2026-01-14T18:10:00', 'R', 1), came('2026-01-14T19:00:00', 'L', null, false), came('', 'L', 4), came('2026-01-16T19:00:00', 'L', 4)]);
    expect(bars.map((b) => b.x)).toEqual([60, 120, 130, 180]);
    expect(bars.map((b) => b.share)).toEqual([1, 0.5, 1, 0]);
    expect(bars[0]!.width).toBe(3); // four minutes are 4 of 840, less the gap
  });
  it('reads curves between their steps', () => {
    const at = ['2026-01-14T17:00:00', '2026-01-14T17:10:00'];
    expect(between(at, [10, 20], Date.parse('2026-01-14T17:03:00Z'))).toBeCloseTo(13, 9);
    expect(between(at, [10, 20], Date.parse('2026-01-14T15:00:00Z'))).toBe(10);
    expect(between(at, [10, 20], Date.parse('2026-01-14T19:00:00Z'))).toBe(20);
  });
});

describe('night band', () => {
  it('spreads the night over its width and the sky over its height', () => {
    expect(xOf(frame, begin + 7 * 3600e3)).toBe(700);
    expect(yOf(frame, 0)).toBe(130);
    expect(yOf(frame, 90)).toBe(10);
    expect(yOf(frame, -20)).toBe(130);
  });
  it('leaves curves out below the horizon', () => {
    expect(curve(frame, at, [10, -5, 10, 20])).toBe('M0.0 116.7M200.0 116.7L300.0 103.3');
  });
  it('closes the Moon down to the horizon', () => {
    expect(area(frame, at, [0, 45, 0, -10])).toBe('M0.0 130L0.0 130.0L100.0 70.0L200.0 130.0L300.0 130.0L300.0 130Z');
  });
  it('grows dark with the Sun, and red alone for dark-adapted eyes', () => {
    expect(tone(5, false)).toBe('rgb(231 168 134)');
    expect(tone(-30, false)).toBe('rgb(15 20 42)');
    for (let sun = 5; sun > -30; sun -= 0.5) expect(tone(sun, true)).toMatch(/^rgb\(\d+ 0 0\)$/);
  });
  it('keeps names apart', () => {
    const same = [10, 40, 60, 40];
    const placed = labels(frame, at, [
      { name: 'M 31', altitudes: same },
      { name: 'M 33', altitudes: same },
    ]);
    expect(placed).toHaveLength(2);
    const [a, b] = placed;
    expect(Math.abs(a!.x - b!.x) >= 41 || Math.abs(a!.y - b!.y) >= 15).toBe(true);
  });
  it('marks full hours of the clock of the site, half-hour zones included', () => {
    expect(hourTicks(frame, 'UTC')[1]).toEqual({ x: 200, label: '18' });
    expect(hourTicks(frame, 'Asia/Kolkata')[0]).toEqual({ x: 50, label: '22' });
    const narrow = hourTicks({ ...frame, width: 300 }, 'UTC');
    expect(narrow.length).toBeLessThanOrEqual(9);
  });
});
