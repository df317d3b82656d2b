import { describe, expect, it } from 'vitest';
import type { LibraryReply } from '../api/services';
import { targetsOf } from './targets';

const light = (target: string, night: string, filter: string, n: number, kind = 'light') =>
  ({ path: `${target}/${n}.fits`, kind, target, night, filter, camera: '', hash: '', exposure_s: 60, gain_setting: null, sensor_temperature_c: null, stars: null, fwhm_px: null, worth: null });

describe('library by target', () => {
  it('puts most hours first, the latest night first, and leaves calibration frames out', () => {
    const reply: LibraryReply = {
      frames: [light('M 33', '2026-09-01', 'L', 1), light('M 33', '2026-09-04', 'R', 2), light('IC 1396', '2026-09-04', 'Ha', 3), light('', '', '', 4, 'dark')],
      hours: [
        { target: 'M 33', filter: 'L', frames: 1, nights: 1, hours: 0.5 },
        { target: 'M 33', filter: 'R', frames: 1, nights: 1, hours: 0.25 },
        { target: 'IC 1396', filter: 'Ha', frames: 1, nights: 1, hours: 2 },
      ],
      matching: 4,
      more: false,
      seconds: 0,
    };
    const targets = targetsOf(reply);
    expect(targets.map((t) => [t.target, t.hours])).toEqual([['IC 1396', 2], ['M 33', 0.75]]);
    expect(targets[1]!.nights.map((n) => n.night)).toEqual(['2026-09-04', '2026-09-01']);
    expect(targets[1]!.nights[0]!.filters).toEqual([{ filter: 'R', frames: 1 }]);
  });
});
