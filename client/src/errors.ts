/** Errors of the data layer, each with what is wrong, where, and what to do. */
import { AppError } from './app-types';

export { AppError };

/** A failure of the device's storage; `doing` says what was being done. */
export function storageError(error: unknown, doing: string): AppError {
  if (error instanceof AppError) return error;
  const name = error instanceof Error ? error.name : 'Error';
  const why = error instanceof Error ? `${error.name}: ${error.message}` : String(error);
  const full = name === 'QuotaExceededError';
  return new AppError(
    'storage',
    full ? `The storage of this device is full (${doing}).` : `The storage of this device failed (${doing}): ${why}`,
    full ? 'Free some space on this device, then try again.' : 'Close the app and open it again; what was saved before is kept.',
    { why, doing, full },
  );
}

/** Whether a failure says that the connection is gone rather than that the request was wrong. */
export function isLostConnection(error: unknown): boolean {
  if (!(error instanceof Error)) return false;
  // Safari: "Connection to Indexed Database server lost. Refresh the page to try again" (UnknownError).
  return error.name === 'InvalidStateError' || error.name === 'UnknownError' || error.name === 'AbortError'
    || /connection.*(lost|clos)/i.test(error.message);
}

/** Whether a failure, told by us or by the browser, is that of a full device. */
export const isFullError = (error: unknown): boolean => isFull(error) || (error instanceof AppError && Boolean(error.details['full']));

export function isFull(error: unknown): boolean {
  return error instanceof Error && error.name === 'QuotaExceededError';
}
