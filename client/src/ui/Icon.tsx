/** The few line drawings of the frame; each stands beside its word, never alone without a label. */
const PATHS = {
  home: 'M4 13L14 4.5 24 13M7 11v12h14V11M12 23v-6h4v6',
  scan: 'M4 9V4h5M19 4h5v5M24 19v5h-5M9 24H4v-5M9 9h4v4H9zM15 9h4v4h-4zM9 15h4v4H9zM15.5 16.5h3',
  find: 'M12 4.5a7.5 7.5 0 1 0 0 15 7.5 7.5 0 0 0 0-15zM17.5 17.5L24 24',
  more: 'M5 8h18M5 14h18M5 20h11',
  back: 'M17 5L8 14l9 9',
  erase: 'M9 6h15v16H9L3 14zM13 11l6 6m0-6l-6 6',
  on: 'M4 11c6-5.5 14-5.5 20 0M8 15.5c3.500-3.200 8.500-3.200 12 0M14 21h.01',
  off: 'M4 11c2-1.800 4.200-3 6.500-3.600M16 7.100c3 .500 5.700 1.800 8 3.900M8 15.500c1-.900 2-1.500 3.200-1.900M14 21h.010M5 4l18 20',
  clock: 'M14 4a10 10 0 1 0 0 20 10 10 0 0 0 0-20zM14 8.500V14l4 3',
  undo: 'M9 5L4 10l5 5M4.500 10H17a6.500 6.500 0 0 1 0 13h-6',
  print: 'M8 10V4h12v6M8 20H4v-10h20v10h-4M8 16h12v8H8z',
  plus: 'M14 5v18M5 14h18',
} as const;

export type IconName = keyof typeof PATHS;

export function Icon({ name, size = 26 }: { name: IconName; size?: number }) {
  return (
    <svg width={size} height={size} viewBox="0 0 28 28" aria-hidden="true" fill="none" stroke="currentColor"
      stroke-width="2.4" stroke-linecap="round" stroke-linejoin="round"><path d={PATHS[name]} /></svg>
  );
}
