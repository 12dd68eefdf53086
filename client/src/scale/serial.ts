/** A scale on a cable at this desk, by Web Serial: 8 data bits, no parity, 1 stop bit, the speed as chosen. */
import { Lines } from './lines';
import { Watch, type Heard, type Source } from './source';

/** The few of Web Serial's names that are used here (WICG specification of the API). */
export interface SerialPortLike {
  readonly readable: ReadableStream<Uint8Array> | null;
  open(options: { baudRate: number }): Promise<void>;
  close(): Promise<void>;
}
export interface SerialLike {
  requestPort(): Promise<SerialPortLike>;
  getPorts(): Promise<SerialPortLike[]>;
}

export const BAUDS = [1200, 2400, 4800, 9600, 19200, 38400, 115200] as const;

export const serialOf = (nav: unknown = navigator): SerialLike | null =>
  (nav as { serial?: SerialLike }).serial ?? null;

/**
 * Opens a port and reads it until it is stopped or lost. `ask`: let the browser offer a choice (needs a touch);
 * else only a port that was allowed before, silently. Never throws: `heard.state` says what became of it.
 */
export async function openSerial(serial: SerialLike, baudRate: number, ask: boolean, heard: Heard): Promise<Source | null> {
  heard.state('opening');
  let port: SerialPortLike | undefined;
  try {
    port = ask ? await serial.requestPort() : (await serial.getPorts())[0];
  } catch {
    heard.state('refused');
    return null;
  }
  if (!port) {
    heard.state('off');
    return null;
  }
  try {
    await port.open({ baudRate });
  } catch (error) {
    heard.state(error instanceof DOMException && error.name === 'InvalidStateError' ? 'busy' : 'gone');
    return null;
  }
  return read(port, heard);
}

function read(port: SerialPortLike, heard: Heard): Source {
  let stopped = false;
  let reader: ReadableStreamDefaultReader<Uint8Array> | null = null;
  const lines = new Lines();
  const watch = new Watch(heard);
  heard.state('open');
  const run = async (): Promise<void> => {
    // A wrong parity or a break ends only one stream: the port gives another. A pulled cable gives none.
    while (!stopped && port.readable) {
      reader = port.readable.getReader();
      const text = new TextDecoder('ascii');
      try {
        for (;;) {
          const { value, done } = await reader.read();
          if (done) break;
          watch.came();
          for (const line of lines.push(text.decode(value, { stream: true }))) heard.line(line);
        }
        if (!stopped) break; // it ended by itself
      } catch {
        // Told by what follows: another stream, or none.
      } finally {
        reader.releaseLock();
        reader = null;
      }
    }
    watch.end();
    await port.close().catch(() => undefined);
    if (!stopped) heard.state('gone');
  };
  const running = run();
  return {
    async stop() {
      stopped = true;
      watch.end();
      await reader?.cancel().catch(() => undefined);
      await running;
    },
  };
}
