/** Grey pictures for the decoder: cut out of a camera frame, and enlarged. Runs on page and worker. */

/** 8-bit grey, row by row, no padding: `data.length` is `width * height`. */
export interface Luma {
  data: Uint8Array;
  width: number;
  height: number;
}

export interface Rect {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** What a frame may come as, best first; see `grab` in decoder.ts. */
export type Frame = VideoFrame | ImageBitmap | ImageData;

/** Frames whose first plane is 8-bit brightness: nothing needs to be converted. */
const Y_FIRST = new Set(['I420', 'I420A', 'I422', 'I422A', 'I444', 'I444A', 'NV12', 'NV12A']);

/** Width and height of a frame as shown, px. */
export function frameSize(frame: Frame): { width: number; height: number } {
  return isVideoFrame(frame)
    ? { width: frame.displayWidth, height: frame.displayHeight }
    : { width: frame.width, height: frame.height };
}

/** The middle `share` of a frame (0 to 1 of each side), on even pixels as chroma planes ask. */
export function middle(width: number, height: number, share: number): Rect {
  const even = (value: number): number => Math.max(0, Math.floor(value / 2) * 2);
  const x = even((width * (1 - share)) / 2);
  const y = even((height * (1 - share)) / 2);
  return { x, y, width: even(width - 2 * x), height: even(height - 2 * y) };
}

/** The grey picture of a part of a frame. Throws DOMException when the frame cannot be read. */
export async function cutLuma(frame: Frame, rect: Rect): Promise<Luma> {
  if (isVideoFrame(frame)) {
    const { visibleRect, format } = frame;
    // Scaled or turned frames have other coordinates in memory than on screen: let the canvas do those.
    const plain = visibleRect?.width === frame.displayWidth && visibleRect.height === frame.displayHeight;
    if (visibleRect && plain && format && Y_FIRST.has(format)) return copyY(frame, visibleRect, rect);
  }
  return drawLuma(frame, rect);
}

async function copyY(frame: VideoFrame, visible: DOMRectReadOnly, rect: Rect): Promise<Luma> {
  const inMemory = { x: visible.x + rect.x, y: visible.y + rect.y, width: rect.width, height: rect.height };
  const buffer = new Uint8Array(frame.allocationSize({ rect: inMemory }));
  const [plane] = await frame.copyTo(buffer, { rect: inMemory });
  const { offset, stride } = plane ?? { offset: 0, stride: rect.width };
  const { width, height } = rect;
  if (stride === width) return { data: buffer.subarray(offset, offset + width * height), width, height };
  const data = new Uint8Array(width * height);
  for (let y = 0; y < height; y += 1) {
    data.set(buffer.subarray(offset + y * stride, offset + y * stride + width), y * width);
  }
  return { data, width, height };
}

let canvas: OffscreenCanvas | undefined;

function drawLuma(frame: Frame, rect: Rect): Luma {
  const { x, y, width, height } = rect;
  if (frame instanceof ImageData) return toLuma(frame, rect);
  if (canvas?.width !== width || canvas.height !== height) canvas = new OffscreenCanvas(width, height);
  const context = canvas.getContext('2d', { willReadFrequently: true });
  if (!context) throw new DOMException('no 2d context for camera frames', 'NotSupportedError');
  context.drawImage(frame, x, y, width, height, 0, 0, width, height);
  return toLuma(context.getImageData(0, 0, width, height), { x: 0, y: 0, width, height });
}

/** Brightness of a part of an RGBA picture, with the weights of ITU-R BT.601 in 1/1024. */
export function toLuma(picture: Pick<ImageData, 'data' | 'width'>, rect: Rect): Luma {
  const { x, y, width, height } = rect;
  const data = new Uint8Array(width * height);
  for (let row = 0; row < height; row += 1) {
    let from = ((y + row) * picture.width + x) * 4;
    for (let to = row * width; to < (row + 1) * width; to += 1, from += 4) {
      const r = picture.data[from] as number;
      const g = picture.data[from + 1] as number;
      const b = picture.data[from + 2] as number;
      data[to] = (306 * r + 601 * g + 117 * b + 512) >> 10;
    }
  }
  return { data, width, height };
}

/** The picture at twice the size, new pixels as means of their neighbours. */
export function enlarge({ data, width, height }: Luma): Luma {
  const wide = width * 2;
  const out = new Uint8Array(wide * height * 2);
  for (let y = 0; y < height; y += 1) {
    const here = y * width;
    const below = y + 1 < height ? here + width : here;
    let top = y * 2 * wide;
    let bottom = top + wide;
    for (let x = 0; x < width; x += 1) {
      const right = x + 1 < width ? x + 1 : x;
      const a = data[here + x] as number;
      const b = data[here + right] as number;
      const c = data[below + x] as number;
      const d = data[below + right] as number;
      out[top] = a;
      out[top + 1] = (a + b) >> 1;
      out[bottom] = (a + c) >> 1;
      out[bottom + 1] = (a + b + c + d) >> 2;
      top += 2;
      bottom += 2;
    }
  }
  return { data: out, width: wide, height: height * 2 };
}

/** The picture at half the size, each pixel the mean of four. */
export function halve({ data, width, height }: Luma): Luma {
  const w = width >> 1;
  const h = height >> 1;
  const out = new Uint8Array(w * h);
  for (let y = 0; y < h; y += 1) {
    let from = y * 2 * width;
    for (let x = 0; x < w; x += 1, from += 2) {
      const below = from + width;
      out[y * w + x] = ((data[from] as number) + (data[from + 1] as number) + (data[below] as number) + (data[below + 1] as number)) >> 2;
    }
  }
  return { data: out, width: w, height: h };
}

function isVideoFrame(frame: Frame): frame is VideoFrame {
  return typeof VideoFrame !== 'undefined' && frame instanceof VideoFrame;
}
