/** The one queue of photographs of this page. */
import { app } from '../ui/app';
import { PhotoQueue } from './queue';

export const photos = new PhotoQueue(app);
let started = false;

export function startPhotos(): void {
  if (started) return;
  started = true;
  photos.start();
}
