/**
 * A connection to one IndexedDB database that survives what phones do to it: an `open()` that never
 * answers, a connection that is closed or lost in the middle, another tab that wants to upgrade.
 */
import { openDB, type DBSchema, type IDBPDatabase, type OpenDBCallbacks } from 'idb';
import { AppError } from './app-types';
import { isLostConnection, storageError } from './errors';

/** How long may open() take? Safari's first open can hang for ever; a slow phone needs about a second. */
const OPEN_MS = 6_000;

export class Connection<S extends DBSchema> {
  private opened: Promise<IDBPDatabase<S>> | null = null;

  constructor(
    private readonly name: string,
    private readonly version: number,
    private readonly upgrade: NonNullable<OpenDBCallbacks<S>['upgrade']>,
    private readonly openMs = OPEN_MS,
  ) {}

  /**
   * Runs one piece of work on the database; where the connection turns out to be lost, once more on a fresh
   * one. The work must therefore be safe to repeat. Throws AppError "storage".
   */
  async run<T>(doing: string, work: (db: IDBPDatabase<S>) => Promise<T>): Promise<T> {
    try {
      return await work(await this.open());
    } catch (error) {
      if (!isLostConnection(error)) throw error instanceof AppError ? error : storageError(error, doing);
    }
    await this.close();
    try {
      return await work(await this.open());
    } catch (error) {
      throw storageError(error, doing);
    }
  }

  /** Closes the connection; the next work opens it again. */
  async close(): Promise<void> {
    const opened = this.opened;
    this.opened = null;
    try {
      (await opened)?.close();
    } catch {
      // It never opened, or is closed already.
    }
  }

  private open(): Promise<IDBPDatabase<S>> {
    return (this.opened ??= this.openOnce());
  }

  private async openOnce(): Promise<IDBPDatabase<S>> {
    const forget = (): void => { this.opened = null; };
    let late = false;
    const opening = openDB<S>(this.name, this.version, {
      upgrade: this.upgrade,
      // A newer version in another tab must not wait for this one.
      blocking: (_current, _wanted, event) => {
        forget();
        (event.target as IDBDatabase).close();
      },
      terminated: forget,
    });
    let timer: ReturnType<typeof setTimeout> | undefined;
    const hangs = new Promise<never>((_, reject) => {
      timer = setTimeout(() => {
        late = true;
        reject(new AppError('storage', `The storage of this device does not answer (${this.name}).`,
          'Close all windows of the app and open it again; if that does not help, restart the device.', { hangs: true, why: 'open() hangs' }));
      }, this.openMs);
    });
    try {
      return await Promise.race([opening, hangs]);
    } catch (error) {
      forget();
      if (late) opening.then((db) => db.close(), () => undefined);
      throw error;
    } finally {
      clearTimeout(timer);
    }
  }
}
