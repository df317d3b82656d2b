// How much the read noise of a sub-exposure adds to the noise that is there anyway, against its length.
export interface Noise {
  background_e_s: number; // sky and dark current of a pixel
  read_noise_e: number;
}

// As a share: 0.05 = five per cent more noise than a camera without read noise would have.
export const added = (n: Noise, seconds: number): number => Math.sqrt(1 + (n.read_noise_e * n.read_noise_e) / (n.background_e_s * seconds)) - 1;

export interface Axes {
  width: number;
  height: number;
  shortest: number; // s, logarithmic axis
  longest: number;
  top: number; // share at the top
}
export const xOf = (a: Axes, seconds: number): number => (a.width * Math.log(seconds / a.shortest)) / Math.log(a.longest / a.shortest);
export const yOf = (a: Axes, share: number): number => a.height * (1 - Math.min(1, share / a.top));

export function path(n: Noise, a: Axes): string {
  const points = Array.from({ length: 61 }, (_, i) => a.shortest * (a.longest / a.shortest) ** (i / 60));
  return points.map((t, i) => `${i ? 'L' : 'M'}${xOf(a, t).toFixed(1)} ${yOf(a, added(n, t)).toFixed(1)}`).join('');
}
