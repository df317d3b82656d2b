// A name that is not taken: nothing is ever written over.
export function free(path: string, taken: string[], extension = ''): string {
  let candidate = path + extension;
  const stem = (name: string): string => (extension === '' ? name : name.replace(/\.[^./]+$/, ''));
  const stems = new Set(taken.map(stem)); // of pictures without their kind: recipes share the name
  for (let n = 2; stems.has(stem(candidate)); ++n) candidate = `${path}-${n}${extension}`;
  return candidate;
}
