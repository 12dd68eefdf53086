/**
 * The half of the app that talks to the farm's computer. It is fetched after the first screen: scanning and
 * looking things up never wait for it.
 */
export { Api } from './api';
export { DeskWork } from './desk-work';
export { Others } from './others';
export { asAppError, pairWith } from './pairing';
export { raise, signOut, stand } from './people';
export { Sync } from './sync';
export { asks } from './asks';
