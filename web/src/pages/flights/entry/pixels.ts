// Where a frame lies in the box it is shown in, and back: shown whole at zoom 1, else a part of it around a point.

export interface Size {
  width: number
  height: number
}

export interface Point {
  x: number
  y: number
}

/** Pixels of the box to one of the frame, and where the frame's upper left corner lies in the box. */
export interface View {
  scale: number
  left: number
  top: number
}

/**
 * The frame in its box: as large as fits whole, times `zoom`, with `centre` (of the frame) in the middle where there
 * is enough frame around it.
 */
export function viewOf(box: Size, frame: Size, zoom = 1, centre: Point | null = null): View {
  const whole = Math.min(box.width / frame.width, box.height / frame.height)
  const scale = (Number.isFinite(whole) && whole > 0 ? whole : 1) * zoom
  const place = (room: number, size: number, middle: number): number => {
    const shown = size * scale
    if (shown <= room) return (room - shown) / 2
    return Math.min(0, Math.max(room - shown, room / 2 - middle * scale))
  }
  return {
    scale,
    left: place(box.width, frame.width, centre?.x ?? frame.width / 2),
    top: place(box.height, frame.height, centre?.y ?? frame.height / 2),
  }
}

/** From a place in the box to the pixel of the frame, kept within it; null beside the frame. */
export function toFrame(view: View, frame: Size, at: Point): Point | null {
  const x = (at.x - view.left) / view.scale
  const y = (at.y - view.top) / view.scale
  if (x < 0 || y < 0 || x > frame.width || y > frame.height) return null
  return { x, y }
}

/** From a pixel of the frame to its place in the box. */
export function toBox(view: View, at: Point): Point {
  return { x: view.left + at.x * view.scale, y: view.top + at.y * view.scale }
}

/** A place moved by so much, kept within the frame. */
export function nudged(at: Point, dx: number, dy: number, frame: Size): Point {
  const within = (value: number, most: number): number => Math.min(Math.max(value, 0), most)
  return { x: within(at.x + dx, frame.width), y: within(at.y + dy, frame.height) }
}
