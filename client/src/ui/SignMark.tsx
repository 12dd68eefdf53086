/** Small drawings for the contamination choices: what the growth is like, and where on the bag it sits. */
import type { ComponentChildren } from 'preact';

const LINE = { fill: 'none', stroke: 'currentColor', 'stroke-width': 2.2, 'stroke-linecap': 'round' as const, 'stroke-linejoin': 'round' as const };

/** Dots on a ring: a powder patch. The texture tells the sign, the tint only helps. */
function Patch({ tint, rim, dots = 9 }: { tint: string; rim?: boolean; dots?: number }) {
  return (
    <>
      <circle cx="20" cy="20" r="13" fill={tint} opacity=".55" />
      {rim && <circle cx="20" cy="20" r="14" {...LINE} stroke-dasharray="1 4" />}
      {Array.from({ length: dots }, (_, i) => {
        const a = i * 2.4;
        const r = 3.6 * Math.sqrt(i);
        return <circle key={i} cx={20 + r * Math.cos(a)} cy={20 + r * Math.sin(a)} r="1.7" fill="currentColor" />;
      })}
    </>
  );
}

const SIGNS: Record<string, ComponentChildren> = {
  green_mould: <Patch tint="#2f7d3b" dots={13} />,
  orange_mould: <><Patch tint="#e2762b" dots={7} /><path d="M20 6V1M30 10l4-4M10 10L6 6M34 20h5" {...LINE} /></>,
  blue_green_mould: <Patch tint="#3b8f97" rim dots={6} />,
  black_mould: <><Patch tint="#3a3a3a" dots={18} /></>,
  pin_mould: <><path d="M8 34L12 12M16 34l1-24M24 34l-1-22M32 34L28 13" {...LINE} /><circle cx="12" cy="10" r="3" fill="currentColor" /><circle cx="17" cy="8" r="3" fill="currentColor" /><circle cx="23" cy="10" r="3" fill="currentColor" /><circle cx="28" cy="11" r="3" fill="currentColor" /></>,
  cobweb: <path d="M3 8c12 6 22 6 34 0M3 20c12 5 22 5 34 0M3 32c12 4 22 4 34 0M8 3c4 12 4 22 0 34M20 3v34M32 3c-4 12-4 22 0 34" {...LINE} stroke-width={1.5} />,
  wet_spot: <><path d="M20 4c7 9 11 14 11 20a11 11 0 0 1-22 0c0-6 4-11 11-20z" {...LINE} /><path d="M14 26c2 3 5 4 8 4" {...LINE} /></>,
  blotch: <><path d="M4 24c0-12 8-18 16-18s16 6 16 18z" {...LINE} /><circle cx="14" cy="17" r="3.500" fill="currentColor" /><circle cx="25" cy="14" r="2.500" fill="currentColor" /><circle cx="28" cy="20" r="2" fill="currentColor" /></>,
  lipstick_mould: <><circle cx="20" cy="20" r="13" fill="#c43a55" opacity=".5" /><path d="M20 8v24M8 20h24M12 12l16 16M28 12L12 28" {...LINE} stroke-width={1.5} /></>,
  slime_mould: <path d="M6 30c-3-8 5-8 5-14s6-9 9-5 8-2 11 4-3 8 2 13-4 8-9 4-6 5-10 3-5-2-8-5z" {...LINE} />,
  mites: <>{[[12, 14], [26, 12], [20, 26]].map(([x, y]) => <g key={x} transform={`translate(${x} ${y})`}><ellipse rx="4" ry="5" fill="currentColor" /><path d="M-4-3l-4-2M-4 1l-4 1M4-3l4-2M4 1l4 1" {...LINE} stroke-width={1.5} /></g>)}</>,
  flies: <><ellipse cx="20" cy="23" rx="4" ry="9" fill="currentColor" /><path d="M18 18C8 8 3 14 6 20s10 4 12 0zM22 18C32 8 37 14 34 20s-10 4-12 0z" {...LINE} /></>,
  other: <><path d="M14 14a6 6 0 1 1 8 5.700c-1.500.600-2 1.700-2 3.300" {...LINE} stroke-width={3} /><circle cx="20" cy="30" r="2.400" fill="currentColor" /></>,
};

export function SignMark({ sign }: { sign: string }) {
  return <svg width="40" height="40" viewBox="0 0 40 40" aria-hidden="true">{SIGNS[sign] ?? SIGNS['other']}</svg>;
}

// The same bag outline as the sign, small; the dark mark is the place meant.
const SPOTS: Record<string, ComponentChildren> = {
  top: <rect x="11" y="19" width="18" height="5" fill="currentColor" />,
  spawn: <>{[14, 18, 22, 26].map((x) => <circle key={x} cx={x} cy={x % 8 === 6 ? 22 : 25} r="1.900" fill="currentColor" />)}</>,
  side: <rect x="23" y="22" width="6" height="13" fill="currentColor" />,
  bottom: <rect x="11" y="31" width="18" height="5" fill="currentColor" />,
  patch: <rect x="16" y="7" width="8" height="6" fill="currentColor" />,
  seam: <path d="M20 2v36" stroke="currentColor" stroke-width="3.500" stroke-dasharray="3 2" />,
  hole: <><circle cx="20" cy="27" r="3" fill="currentColor" /><path d="M20 20v3M20 31v3M13 27h3M24 27h3" stroke="currentColor" stroke-width="2" /></>,
  throughout: <path d="M11 22h18M11 26h18M11 30h18M11 34h18M13 19v17M18 19v17M23 19v17M28 19v17" stroke="currentColor" stroke-width="1.800" />,
};

export function SpotMark({ spot }: { spot: string }) {
  return (
    <svg width="40" height="40" viewBox="0 0 40 40" aria-hidden="true">
      <path d="M10 22l5-6V4h10v12l5 6v13c0 2-1 3-3 3H13c-2 0-3-1-3-3z" fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round" />
      {SPOTS[spot]}
    </svg>
  );
}
