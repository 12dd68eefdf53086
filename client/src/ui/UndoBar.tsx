/** The last act with one tap to take it back; it steps aside after a while, Records keeps the way. */
import { kindName, t } from '../i18n';
import { app } from './app';
import { errorWords } from './act';
import { Icon } from './Icon';
import { anyName } from './names';
import { say } from './toast';
import { clock } from './Status';
import { signal } from '@preact/signals';

const SHOWN_MS = 120_000;
const closed = signal('');

export async function undoLast(): Promise<void> {
  try {
    const line = await app().undo();
    say(line ? 'ok' : 'ask', line ? t('undo.done') : t('undo.none'));
  } catch (error) {
    const { what, todo } = errorWords(error);
    say('bad', `${what} ${todo}`);
  }
}

export function UndoBar() {
  const act = app().lastAct.value;
  // Names of what was just born are known once it is folded.
  void app().changed.value;
  const line = act?.lines[act.lines.length - 1];
  if (!act || !line || act.voided || closed.value === line.id || clock.value - (line.e ?? line.t) > SHOWN_MS) return null;
  const about = new Set(act.lines.flatMap((l) => l.s));
  const one = [...about][0];
  return (
    <div class="undo">
      <p dir="auto">{t('undo.last', { what: kindName(line.k), about: about.size === 1 && one ? anyName(one) : t('name.things', { n: about.size }) })}</p>
      <button type="button" class="btn" onClick={() => void undoLast()}><Icon name="undo" />{t('undo.do')}</button>
      <button type="button" class="btn btn-bare btn-icon" aria-label={t('undo.hide')} onClick={() => { closed.value = line.id; }}>×</button>
    </div>
  );
}
