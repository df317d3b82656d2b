import { describe, expect, it } from 'vitest';
import { angle, clock, coordinates, digits, hours, significant } from './format';

describe('format', () => {
  it('writes places on the sky in hours and degrees', () => {
    // Right ascension 97.99148 deg = 6 h 31 min 57.955 s.
    expect(coordinates(97.99148, 4.90902)).toBe('06 31 58.0 +04 54 32');
    expect(coordinates(359.99999, -0.5)).toBe('00 00 00.0 −00 30 00');
    expect(coordinates(null, null)).toBe('');
  });
  it('writes hours as people say them', () => {
    expect(hours(0.4)).toBe('24 min');
    expect(hours(4.6)).toBe('4 h 36 min');
    expect(hours(0.9999)).toBe('1 h 00 min');
  });
  it('keeps three significant digits', () => {
    expect([0.01234, 4.5678, 789.4, 12345, 0].map(significant)).toEqual(['0.0123', '4.57', '789', '12300', '0']);
    expect(significant(null)).toBe('–');
  });
  it('says what is missing', () => {
    expect(digits(undefined, 1)).toBe('–');
    expect(digits(Number.NaN, 1)).toBe('–');
  });
  it('changes from minutes to degrees', () => {
    expect(angle(7.25)).toBe('7.3′');
    expect(angle(90)).toBe('1.5°');
  });
  it('reads times as UTC and shows them in a zone, daylight saving included', () => {
    expect(clock('2026-01-14T21:30:00.000', 'Europe/Zurich')).toBe('22:30');
    expect(clock('2026-07-14T21:30:00.000', 'Europe/Zurich')).toBe('23:30');
  });
});
