/**
 * The bag as our sign: a gusseted bag with its filter patch. White grows from the spawn (on top) down as
 * the run proceeds, then browns; flushes stand as caps on the shoulder; a contaminated bag is crossed and
 * hatched; one that has left the farm is pale with a word. Shape tells everything; colour only helps.
 */
import { useId } from 'preact/hooks';
import type { Part } from '../app-types';
import { calendarDays } from '../i18n/format';
import { t } from '../i18n';

export interface BagLook {
  /** 0..1: how far the white has come down. */
  run: number;
  brown: boolean;
  flushes: number;
  bad: boolean;
  ended?: string | undefined;
}

// How long does a spawn run take, at most, before the drawing stops just short of full? Only a picture:
// runs differ by strain, so without a look at the bag it never draws "done".
const DRAWN_RUN_DAYS = 21;

const DONE = ['colonised', 'browning', 'fruiting', 'resting', 'spent'];

/** What the sign shows of a part's state. */
export function lookOf(part: Pick<Part, 'stage' | 'since'> & Partial<Part>, now = Date.now()): BagLook {
  const days = calendarDays(part.since, now);
  const run = DONE.includes(part.stage) ? 1
    : part.stage === 'spawn_run' ? Math.min(0.85, 0.08 + (0.77 * Math.max(0, days)) / DRAWN_RUN_DAYS) : 0;
  return {
    run,
    brown: ['browning', 'fruiting', 'resting', 'spent'].includes(part.stage),
    flushes: part.flush ?? 0,
    bad: Boolean(part.bad),
    ended: part.end,
  };
}

const BODY = 'M9 43c0-4 2-6 4-9l3-6V10h28v18l3 6c2 3 4 5 4 9v28c0 3-2 5-5 5H14c-3 0-5-2-5-5z';
const TOP = 39;
const DEEP = 37;

export function BagSign({ look, size = 64, label }: { look: BagLook; size?: number; label?: string | undefined }) {
  const id = useId();
  const caps = Math.min(3, look.flushes);
  return (
    <svg class="bagsign" width={size * 0.75} height={size} viewBox="0 0 60 80" style={look.ended ? { opacity: 0.55 } : undefined}
      {...(label ? { role: 'img', 'aria-label': label } : { 'aria-hidden': true })}>
      <defs>
        <clipPath id={`${id}c`}><path d={BODY} /></clipPath>
        <pattern id={`${id}h`} width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <path d="M0 0V7" stroke="var(--bad)" stroke-width="2.6" />
        </pattern>
      </defs>
      <g clip-path={`url(#${id}c)`}>
        <rect x="0" y="0" width="60" height="80" fill="var(--sheet)" />
        <rect x="0" y={TOP} width="60" height="41" fill="var(--bag-mix)" />
        {look.run > 0 && <path fill={look.brown ? 'var(--bag-brown)' : 'var(--bag-run)'}
          d={look.run < 1 ? `M0 ${TOP}H60V${TOP + DEEP * look.run}q-7 4-15 0t-15 0-15 0-15 0z` : `M0 ${TOP}H60V80H0z`} />}
        {look.run > 0 && !look.brown && look.run < 1 && <path d={`M0 ${TOP + DEEP * look.run}q7 4 15 0t15 0 15 0 15 0`} transform="translate(0 .5)" fill="none" stroke="var(--bag-line)" stroke-width="1" stroke-dasharray="2 2" />}
        {look.bad && <rect x="0" y="27" width="60" height="53" fill={`url(#${id}h)`} />}
      </g>
      <path d={BODY} fill="none" stroke="var(--bag-line)" stroke-width="2.6" stroke-linejoin="round" />
      <path d="M17 75V45l4-11V12M43 75V45l-4-11V12" fill="none" stroke="var(--bag-line)" stroke-width="1" opacity=".4" />
      <path d="M16 10l4-4.500 3.500 4.500 3.250-4.500 3.250 4.500 3.250-4.500 3.250 4.500 3.500-4.500 4 4.500" fill="none" stroke="var(--bag-line)" stroke-width="2.2" stroke-linejoin="round" />
      <rect x="25" y="15" width="10" height="9" rx="1.5" fill="none" stroke="var(--bag-line)" stroke-width="1.6" />
      <path d="M28.300 15v9M31.700 15v9M25 18h10M25 21h10" stroke="var(--bag-line)" stroke-width=".7" />
      {Array.from({ length: caps }, (_, i) => {
        const [x, y] = [[12, 37], [48, 37], [30, 40]][i] as [number, number];
        return (
          <g key={i} transform={`translate(${x} ${y})`} stroke="var(--bag-line)" stroke-width="1.6" stroke-linejoin="round">
            <path d="M-2.500 0h5v6h-5z" fill="var(--bag-run)" />
            <path d="M-8.500 0c0-6 4-8.500 8.500-8.500S8.500-6 8.500 0z" fill="var(--bag-cap)" />
          </g>
        );
      })}
      {/* Where cross and bag have one colour (forced colours), its edge keeps it apart. */}
      {look.bad && [10, 4.5].map((wide, i) => <path key={wide} d="M6 32L54 78M54 32L6 78" stroke={i ? 'var(--bad)' : 'var(--bag-halo, none)'} stroke-width={wide} stroke-linecap="round" />)}
    </svg>
  );
}

/** The words that say what the sign shows, for a reader that speaks and for those new to it. */
export function lookWords(part: Pick<Part, 'stage'> & Partial<Part>): string {
  if (part.end) return t(`stage.${part.stage}`);
  return part.bad ? t('sign.bad', { stage: t(`stage.${part.stage}`) }) : t(`stage.${part.stage}`);
}
