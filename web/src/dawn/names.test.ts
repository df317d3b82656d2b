import { describe, expect, it } from 'vitest';
import { free } from './names';

describe('free names', () => {
  it('count up past what is there', () => {
    expect(free('masters/one', [])).toBe('masters/one');
    expect(free('masters/one', ['masters/one', 'masters/one-2'])).toBe('masters/one-3');
  });
  it('do not share a recipe with a picture of another kind', () => {
    expect(free('pictures/one', ['pictures/one.png'], '.jpg')).toBe('pictures/one-2.jpg');
  });
});
