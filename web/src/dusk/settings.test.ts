import { describe, expect, it } from 'vitest';
import { entered, groupsOf, shownValue, unitOf, type Setting } from './settings';

const setting = (key: string, kind: string, value: unknown, set = true): Setting => {
  const at = key.lastIndexOf('.');
  return { key, group: key.slice(0, Math.max(0, at)), name: key.slice(at + 1), kind, about: '', line: 1, set, value };
};

describe('settings', () => {
  it('have their units from their names', () => {
    expect(unitOf('zenith_mag_arcsec2').unit).toBe('mag/arcsec²');
    expect(unitOf('aperture_mm').unit).toBe('mm');
    expect(unitOf('gain_e_adu').unit).toBe('e⁻/ADU');
    expect(unitOf('temperature_c').unit).toBe('°C');
    expect(unitOf('slew_deg_s').unit).toBe('°/s');
    expect(unitOf('name').unit).toBe('');
  });
  it('are read as they were meant', () => {
    const number = setting('optics.aperture_mm', 'number', 130);
    expect(entered(number, ' 92,5 ')).toEqual({ value: 92.5 });
    expect(entered(number, '−3')).toEqual({ value: -3 });
    expect(entered(number, 'wide')).toEqual({ wrong: true });
    expect(entered(number, '')).toEqual({ value: null });
    expect(entered(setting('horizon', 'list', [[0, 1]]), '[[0, 5], [90, 9]]')).toEqual({ value: [[0, 5], [90, 9]] });
    expect(entered(setting('horizon', 'list', [[0, 1]]), '0, 5')).toEqual({ wrong: true });
    expect(shownValue(setting('a', 'list', [[0, 10], [90, 25]]))).toBe('[[0, 10], [90, 25]]');
  });
  it('stand in groups, items of lists by their own names', () => {
    const groups = groupsOf([setting('name', 'text', 'mine'), setting('filters[0].name', 'text', 'L'), setting('filters[0].width_nm', 'number', 300), setting('sensor.gains[1].setting', 'number', 100)]);
    expect(groups.map((g) => g.title)).toEqual(['', 'filters L', 'sensor, gains 2']);
    expect(groups[1]!.settings).toHaveLength(2);
  });
});
