import { expect, test } from 'vitest';
import { faultOf } from '../../../client/src/scan/camera';

test.each([
  ['NotAllowedError', 'denied'],
  ['SecurityError', 'denied'],
  ['NotFoundError', 'none'],
  ['OverconstrainedError', 'none'],
  ['NotReadableError', 'in_use'],
  ['AbortError', 'in_use'],
  ['InvalidStateError', 'failed'],
])('%s is told as %s', (name, fault) => {
  expect(faultOf(new DOMException('from the browser', name))).toBe(fault);
});

test('whatever else is thrown is told as failed', () => {
  for (const thrown of [undefined, null, 'text', 7, new Error('x')]) expect(faultOf(thrown)).toBe('failed');
});
