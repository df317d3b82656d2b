export function hours(h: number): string {
  const minutes = Math.round(h * 60);
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}

export function digits(value: number | null | undefined, count: number): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  return value.toFixed(count);
}

// Three significant digits: 0.0123, 4.56, 789, 12300.
export function significant(value: number | null | undefined): string {
  if (value === null || value === undefined || !Number.isFinite(value)) return '–';
  if (value === 0) return '0';
  const places = Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value))));
  return Math.abs(value) >= 1000 ? String(Number(value.toPrecision(3))) : value.toFixed(Math.min(places, 6));
}

export function angle(arcmin: number): string {
  return arcmin >= 60 ? `${(arcmin / 60).toFixed(1)}°` : `${arcmin.toFixed(arcmin < 10 ? 1 : 0)}′`;
}

// "2026-01-14T21:30:00.000" is UTC, as all times of the services.
export function utc(iso: string): number {
  return Date.parse(iso.endsWith('Z') || /[+-]\d\d:?\d\d$/.test(iso) ? iso : iso + 'Z');
}

export function clock(iso: string, zone: string): string {
  return new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', timeZone: zone }).format(utc(iso));
}

// "06 32 15.2 +04 56 10", hours and degrees.
export function coordinates(raDeg: number | null, decDeg: number | null): string {
  if (raDeg === null || decDeg === null) return '';
  const two = (n: number): string => String(n).padStart(2, '0');
  const tenths = Math.round(raDeg * 2400) % 864000; // of a second of time
  const seconds = tenths % 600;
  const arc = Math.round(Math.abs(decDeg) * 3600);
  const sign = decDeg < 0 && arc > 0 ? '−' : '+';
  return `${two(Math.floor(tenths / 36000))} ${two(Math.floor(tenths / 600) % 60)} ${(seconds / 10).toFixed(1).padStart(4, '0')} ${sign}${two(Math.floor(arc / 3600))} ${two(Math.floor(arc / 60) % 60)} ${two(arc % 60)}`;
}
