/** Photographs: nothing of the camera's notes comes along, and the sides are fitted. */
import { describe, expect, it } from 'vitest';
import { withoutNotes } from '../../../client/src/photos/plain';
import { fitted } from '../../../client/src/photos/shrink';

const segment = (marker: number, ...body: number[]): number[] => [0xff, marker, 0, body.length + 2, ...body];
const SCAN = [...segment(0xda, 1, 1, 0, 0, 63, 0), 1, 2, 0xff, 0x00, 3, 0xff, 0xd9];
const picture = (...notes: number[][]): Uint8Array => new Uint8Array([0xff, 0xd8, ...notes.flat(), ...segment(0xc0, 8, 0, 1, 0, 1, 1, 1, 0x11, 0), ...SCAN]);

describe('withoutNotes', () => {
  it('leaves a plain picture as it is', () => expect(withoutNotes(picture())).toEqual(picture()));
  it('takes Exif, other APP segments and comments out, and keeps profile and transform', () => {
    const kept = [segment(0xe0, 1), segment(0xe2, 2), segment(0xee, 3)];
    expect(withoutNotes(picture(...kept, segment(0xe1, 71, 80, 83), segment(0xfe, 9), segment(0xed, 5)))).toEqual(picture(...kept));
  });
  it('cuts off what stands behind the end', () => expect(withoutNotes(new Uint8Array([...picture(), 9, 9]))).toEqual(picture()));
  it.each([[[0x47, 0x49]], [[0xff, 0xd8, 0xff]], [[0xff, 0xd8, 0xff, 0xe1, 0, 200, 1]], [[...picture()].slice(0, -2)]])('refuses %j', (bytes) =>
    expect(() => withoutNotes(new Uint8Array(bytes))).toThrow());
});

it.each([[[4000, 3000], [1600, 1200]], [[3000, 4000], [1200, 1600]], [[800, 600], [800, 600]], [[16_000, 2], [1600, 1]]])('%j fits as %j', ([w, h], to) =>
  expect(fitted(w as number, h as number)).toEqual(to));
