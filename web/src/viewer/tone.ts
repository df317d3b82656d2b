// From linear values to what the screen shows. All in units of the noise above the sky, so that one setting suits every
// image: u = asinh((value - sky) / noise) is the scale of the histogram and of the sliders.
export interface Tone {
  black: number; // u
  white: number; // u
  stretch: number; // log10 of the factor in asinh(factor x) / asinh(factor)
  saturation: number;
}

export const kTone: Tone = { black: -1.2, white: 7, stretch: 2.8, saturation: 1 };

export const toValue = (u: number, sky: number, noise: number): number => sky + noise * Math.sinh(u);

// What the shader computes, for tests and for the readout: 0 black, 1 white.
export function shown(value: number, sky: number, noise: number, tone: Tone): number {
  const low = Math.sinh(tone.black);
  const high = Math.max(low + 1e-3, Math.sinh(tone.white));
  const x = Math.min(1, Math.max(0, ((value - sky) / noise - low) / (high - low)));
  const factor = 10 ** tone.stretch;
  return Math.asinh(factor * x) / Math.asinh(factor);
}

// Histogram as an SVG path over width x height; the highest bin touches the top.
export function histogramPath(counts: number[], width: number, height: number, logarithmic: boolean): string {
  const level = (n: number): number => (logarithmic ? Math.log10(1 + n) : n);
  const most = Math.max(1e-9, ...counts.map(level));
  const step = width / counts.length;
  return counts.reduce((path, n, i) => `${path}L${(i * step).toFixed(1)} ${(height * (1 - level(n) / most)).toFixed(1)}`, `M0 ${height}`) + `L${width} ${height}Z`;
}
