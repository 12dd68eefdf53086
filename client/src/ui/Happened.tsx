/** "It happened earlier": now unless said; today at an hour, yesterday, or a day, in the farm's zone. */
import { useState } from 'preact/hooks';
import type { Happened } from '../app-types';
import { t } from '../i18n';
import { DAY, fromWall, noon, wall, when } from '../i18n/format';

type Mode = 'now' | 'today' | 'yesterday' | 'day';

const two = (n: number): string => String(n).padStart(2, '0');

/** The stated time of the control's figures; null while they are incomplete, 'future' when not yet come. */
export function statedTime(mode: Mode, day: string, time: string, now: number): Happened | null | 'future' {
  if (mode === 'now') return null;
  const w = wall(mode === 'yesterday' ? noon(wall(now).y, wall(now).m, wall(now).d) - DAY : now);
  const date = /^(\d{4})-(\d\d)-(\d\d)$/.exec(mode === 'day' ? day : `${w.y}-${two(w.m)}-${two(w.d)}`);
  if (!date) return null;
  const [y, m, d] = [Number(date[1]), Number(date[2]), Number(date[3])];
  const clock = /^(\d\d):(\d\d)/.exec(time);
  const at: Happened = clock
    ? { ms: fromWall({ y, m, d, h: Number(clock[1]), min: Number(clock[2]) }), p: 'm' }
    : { ms: noon(y, m, d), p: 'd' };
  // A bare "today" before noon is no lie: the day is right, only its stand-in hour has not come yet.
  if (at.ms > now) return at.p === 'd' && noon(wall(now).y, wall(now).m, wall(now).d) === at.ms ? { ms: now, p: 'd' } : 'future';
  return at;
}

/** `since`: what it counts for unless another time is said; now where that is left out. */
export function HappenedEarlier({ onChange, since }: { onChange: (at: Happened | null | 'future') => void; since?: Happened | undefined }) {
  const [mode, setMode] = useState<Mode>('now');
  const [day, setDay] = useState('');
  const [time, setTime] = useState('');
  const now = Date.now();
  const at = statedTime(mode, day, time, now);
  const set = (m: Mode, d: string, h: string): void => {
    setMode(m); setDay(d); setTime(h);
    onChange(statedTime(m, d, h, Date.now()));
  };
  const w = wall(now);
  const said = at === null || at === 'future' ? since : at;
  return (
    <details class="card">
      <summary>{said ? t('happened.at', { when: when(said.ms, said.p === 'd') }) : t('happened.now')}</summary>
      <div class="choices">
        {(['now', 'today', 'yesterday', 'day'] as const).map((m) => (
          <button type="button" key={m} class="choice" aria-pressed={mode === m} onClick={() => set(m, day, m === 'now' ? '' : time)}>{m === 'now' && since ? when(since.ms, since.p === 'd') : t(`happened.${m}.name`)}</button>
        ))}
      </div>
      {mode === 'day' && (
        <label class="field"><span>{t('happened.which_day')}</span>
          <input class="input" type="date" max={`${w.y}-${two(w.m)}-${two(w.d)}`} value={day} onInput={(e) => set(mode, e.currentTarget.value, time)} />
        </label>
      )}
      {mode !== 'now' && (
        <label class="field"><span>{t('happened.time')} <span class="must">{t('field.optional')}</span></span>
          <input class="input" type="time" value={time} onInput={(e) => set(mode, day, e.currentTarget.value)} />
        </label>
      )}
      {at === 'future' && <p class="wrong" role="alert">{t('happened.future')}</p>}
    </details>
  );
}
