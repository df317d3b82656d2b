// Values of the workspace's files as fields of a form.
import type { SettingsReply } from '../api/services';

export type Setting = SettingsReply['settings'][number];

// Units stand at the end of the names of keys, the longest first.
const kUnits: [string, string][] = [
  ['_mag_arcsec2', 'mag/arcsec²'], ['_mag_airmass', 'mag/airmass'], ['_percent_by_nm', 'nm, %'], ['_fwhm_arcsec', '″ FWHM'], ['_altitude_deg', '° altitude'],
  ['_arcsec', '″'], ['_arcmin', '′'], ['_percent', '%'], ['_e_adu', 'e⁻/ADU'], ['_deg_s', '°/s'], ['_e_s', 'e⁻/s'], ['_deg', '°'], ['_adu', 'ADU'], ['_hpa', 'hPa'], ['_every_c', '°C'],
  ['_mm2', 'mm²'], ['_awg', 'AWG'], ['_mm', 'mm'], ['_um', 'µm'], ['_nm', 'nm'], ['_px', 'px'], ['_min', 'min'], ['_wh', 'Wh'], ['_ah', 'Ah'],
  ['_a', 'A'], ['_c', '°C'], ['_e', 'e⁻'], ['_h', 'h'], ['_m', 'm'], ['_s', 's'], ['_w', 'W'],
];
export function unitOf(name: string): { suffix: string; unit: string } {
  const found = kUnits.find(([suffix]) => name.endsWith(suffix));
  return found ? { suffix: found[0], unit: found[1] } : name.endsWith('watts') ? { suffix: '', unit: 'W' } : name === 'volts' ? { suffix: '', unit: 'V' } : { suffix: '', unit: '' };
}

export const shownValue = (s: Setting): string => (s.kind === 'text' ? String(s.value) : JSON.stringify(s.value).replaceAll(',', ', '));

// What was typed as a value for the file; empty takes it away.
export function entered(s: Setting, words: string): { value: unknown } | { wrong: true } {
  const trimmed = words.trim();
  if (trimmed === '') return s.set && s.kind === 'text' ? { value: '' } : { value: null };
  if (s.kind === 'text') return { value: trimmed };
  if (s.kind === 'choice') return { value: trimmed === 'true' };
  if (s.kind === 'number') {
    const number = Number(trimmed.replace(',', '.').replace('−', '-'));
    return Number.isFinite(number) ? { value: number } : { wrong: true };
  }
  try {
    const list: unknown = JSON.parse(trimmed);
    return Array.isArray(list) ? { value: list } : { wrong: true };
  } catch {
    return { wrong: true };
  }
}

export interface Group {
  name: string; // "filters[1]"
  title: string;
  settings: Setting[];
}
// In the order of the file; an item of a list is called by its own name.
export function groupsOf(settings: Setting[]): Group[] {
  const groups: Group[] = [];
  for (const s of settings) {
    let group = groups.find((g) => g.name === s.group);
    if (!group) groups.push((group = { name: s.group, title: '', settings: [] }));
    group.settings.push(s);
  }
  for (const g of groups) {
    const own = g.settings.find((s) => s.name === 'name' && s.set);
    const plain = g.name.replace(/\[(\d+)\]$/, (_, n: string) => (own && g.name !== '' ? ` ${String(own.value)}` : ` ${Number(n) + 1}`));
    g.title = plain.replaceAll('.', ', ').replaceAll('_', ' ');
  }
  return groups;
}
