// The speed map in the drawing: scales, everything of it that does not move with the hand, and the speeds under a point.
import { degrees } from '../../lib/format'
import type { ContourPage, MapState, SpeedMapPage } from '../../lib/generated/pages'
import { type Box, onLine, type OnLine, pathOf, Placer, type Point, sampled, widthOf } from './labels'

export const SIZE = 13.5
const LINE = 18

/** Percent of motor brake and degrees of crow to the drawing. */
export class MapFrame {
  readonly left = 34
  readonly top = 26
  readonly right: number
  readonly bottom: number
  readonly height: number

  constructor(
    readonly width: number,
    readonly mostDeg: number,
    tall: boolean,
  ) {
    this.right = width - 14
    this.bottom = this.top + Math.min(Math.max(width * 0.78, 330), 470)
    this.height = this.bottom + (tall ? 82 : 64)
  }
  x = (percent: number): number => this.left + ((this.right - this.left) * percent) / 100
  y = (deg: number): number => this.bottom - ((this.bottom - this.top) * deg) / this.mostDeg
  percent = (x: number): number => ((x - this.left) / (this.right - this.left)) * 100
  deg = (y: number): number => ((this.bottom - y) / (this.bottom - this.top)) * this.mostDeg
  get box(): Box {
    return {
      x: (this.left + this.right) / 2,
      y: (this.top + this.bottom) / 2,
      width: this.right - this.left,
      height: this.bottom - this.top,
    }
  }
}

export interface Words {
  words: string
  x: number
  y: number
  turn: number
}

/** What stands still on the map. */
export interface MapDrawing {
  contours: { speed: number; d: string }[]
  wanted: string
  patches: string[]
  limits: { y: number; kind: string }[]
  nowhere: { x: number; y: number; width: number; height: number }[]
  contourWords: Words[]
  limitWords: Words[]
  wantedWords: Words | null
  bandWords: Words[]
  bandLead: string
  holes: { box: Box; turn: number }[]
  taken: Box[]
}

const BAND = ['two propeller speeds', 'possible here:', 'entry speed decides']

export function drawMap(page: SpeedMapPage, frame: MapFrame): MapDrawing {
  const placer = new Placer(frame.box)
  const holes: { box: Box; turn: number }[] = []
  const others = page.contours.map((line) => clipped(line, frame))
  const wanted = clipped(page.wanted, frame)
  placer.heavy = wanted.flatMap((piece) => sampled(piece, 8))
  placer.light = others.flat().flatMap((piece) => sampled(piece, 24))
  placer.busy = page.two_speeds.flatMap((patch) => inside(patch, frame))
  if (page.chosen) {
    const [x, y] = [frame.x(page.chosen.brake_percent), frame.y(page.chosen.crow_deg)]
    placer.taken.push({ x, y, width: 26, height: 26 })
    placer.heavy.push(...sampled(ellipsePoints(page, frame), 10))
  }
  const limits = page.limits.filter((limit) => frame.y(limit.crow_deg) > frame.top)
  const limitWords: Words[] = []
  limits.forEach((limit, index) => {
    const y = frame.y(limit.crow_deg)
    const above = limits[index + 1] ? frame.y(limits[index + 1]?.crow_deg ?? 0) : frame.top
    const width = widthOf(limit.short, SIZE)
    const xs = [frame.right - 8 - width / 2, frame.box.x, frame.left + 8 + width / 2]
    const ups = [10, 28, 46].filter((up) => y - up - 9 > above)
    const box = placer.best(
      (ups.length ? ups : [10]).flatMap((up) => xs.map((x) => ({ own: 0.3 * up, box: { x, y: y - up, width, height: LINE } }))),
    )
    if (!box) return
    holes.push({ box, turn: 0 })
    limitWords.push({ words: limit.short, x: box.x, y: box.y, turn: 0 })
  })
  const label = (words: string, pieces: Point[][], most: number, bold = false): Words | null => {
    const width = widthOf(words, SIZE, bold) + 8
    const at: OnLine | null = onLine(pieces, width, SIZE, placer, most)
    if (!at) return null
    holes.push({ box: { ...at.box, width, height: LINE }, turn: at.turn })
    return { words, x: at.box.x, y: at.box.y, turn: at.turn }
  }
  const wantedWords = label(`${page.wanted_speed_m_s.toFixed(1)} m/s wanted`, wanted, 1e9, true)
  const { words: bandWords, lead: bandLead } = placeBand(page, frame, placer, holes)
  const contourWords = page.contours.flatMap((line, index) => {
    const found = label(String(Number(line.speed_m_s.toFixed(1))), others[index] ?? [], 150)
    return found ? [found] : []
  })
  return {
    contours: page.contours.map((line, index) => ({
      speed: line.speed_m_s,
      d: (others[index] ?? []).map((piece) => pathOf(piece)).join(''),
    })),
    wanted: wanted.map((piece) => pathOf(piece)).join(''),
    patches: page.two_speeds.map((patch) =>
      pathOf(
        [
          ...patch.brake_percent.map((b, k): Point => [frame.x(b), frame.y(patch.high_deg[k] ?? 0)]),
          ...patch.brake_percent.map((b, k): Point => [frame.x(b), frame.y(patch.low_deg[k] ?? 0)]).reverse(),
        ],
        true,
      ),
    ),
    limits: limits.map((limit) => ({ y: frame.y(limit.crow_deg), kind: limit.kind })),
    nowhere: nowhere(page, frame),
    contourWords,
    limitWords,
    wantedWords,
    bandWords,
    bandLead,
    holes,
    taken: placer.taken.slice(page.chosen ? 1 : 0),
  }
}

function placeBand(
  page: SpeedMapPage,
  frame: MapFrame,
  placer: Placer,
  holes: { box: Box; turn: number }[],
): { words: Words[]; lead: string } {
  const largest = page.two_speeds.reduce<Point[]>((most, patch) => {
    const points = inside(patch, frame)
    return points.length > most.length ? points : most
  }, [])
  if (largest.length === 0) return { words: [], lead: '' }
  const ceiling = frame.y(Math.min(...page.limits.map((limit) => limit.crow_deg), Infinity))
  const low = largest.filter((point) => point[1] > ceiling)
  const spots = low.length ? low : largest
  const width = Math.max(...BAND.map((line) => widthOf(line, SIZE, true))) + 6
  const height = LINE * BAND.length
  const candidates: { own: number; box: Box }[] = []
  for (let column = 0; column < 13; column++)
    for (let row = 0; row < 15; row++) {
      const box = {
        x: frame.left + 6 + width / 2 + (column / 12) * (frame.right - frame.left - width - 12),
        y: frame.top + 6 + height / 2 + (row / 14) * (frame.bottom - frame.top - height - 12),
        width,
        height,
      }
      candidates.push({ own: 1.5 * Math.min(...spots.map((spot) => gap(box, spot))), box })
    }
  const box = placer.best(candidates)
  if (!box) return { words: [], lead: '' }
  const words = BAND.map((line, k) => ({ words: line, x: box.x, y: box.y - height / 2 + LINE * (k + 0.5), turn: 0 }))
  for (const line of words)
    holes.push({ box: { x: line.x, y: line.y, width: widthOf(line.words, SIZE, true) + 6, height: LINE + 1 }, turn: 0 })
  const spot = spots.reduce((best, point) => (gap(box, point) < gap(box, best) ? point : best))
  return { words, lead: gap(box, spot) > 20 ? pathOf([edge(box, spot), spot]) : '' }
}

const gap = (box: Box, [x, y]: Point): number =>
  Math.hypot(Math.max(Math.abs(x - box.x) - box.width / 2, 0), Math.max(Math.abs(y - box.y) - box.height / 2, 0))

const edge = (box: Box, [x, y]: Point): Point => [
  Math.min(Math.max(x, box.x - box.width / 2), box.x + box.width / 2),
  Math.min(Math.max(y, box.y - box.height / 2), box.y + box.height / 2),
]

/** Points all over a patch, some 12 apart. */
function inside(patch: SpeedMapPage['two_speeds'][number], frame: MapFrame): Point[] {
  return patch.brake_percent.flatMap((b, k) => {
    const [low, high] = [patch.low_deg[k] ?? 0, patch.high_deg[k] ?? 0]
    const steps = Math.max(Math.trunc((frame.y(low) - frame.y(high)) / 12), 1)
    return Array.from({ length: steps }, (_, n): Point => [frame.x(b), frame.y(low + ((high - low) * (n + 0.5)) / steps)])
  })
}

/** Pieces of a line in the drawing, cut at no crow and at the stop. */
function clipped(line: ContourPage, frame: MapFrame): Point[][] {
  const found: Point[][] = []
  for (const piece of line.pieces) {
    let run: Point[] = []
    piece.forEach(([b1, c1], index) => {
      const before = piece[index - 1]
      if (!before) return
      const [b0, c0] = before
      if (Math.max(c0, c1) < 0 || Math.min(c0, c1) > frame.mostDeg) {
        if (run.length > 1) found.push(run)
        run = []
        return
      }
      const held = (b: number, c: number, ob: number, oc: number): Point => {
        const at = Math.min(Math.max(c, 0), frame.mostDeg)
        return [frame.x(c === at ? b : b + ((at - c) / (oc - c)) * (ob - b)), frame.y(at)]
      }
      if (run.length === 0) run.push(held(b0, c0, b1, c1))
      run.push(held(b1, c1, b0, c0))
    })
    if (run.length > 1) found.push(run)
  }
  return found
}

/** Grey where no stable steady speed was found, row by row. */
function nowhere(page: SpeedMapPage, frame: MapFrame): MapDrawing['nowhere'] {
  const wide = ((page.brake_percent[1] ?? 0) - (page.brake_percent[0] ?? 0)) / 2
  const high = ((page.crow_deg[1] ?? 0) - (page.crow_deg[0] ?? 0)) / 2
  return page.states.flatMap((row, r) =>
    row.flatMap((cell, c) => {
      if (cell.some((state) => state.stable)) return []
      const [b, d] = [page.brake_percent[c] ?? 0, page.crow_deg[r] ?? 0]
      const [x, y] = [frame.x(b - wide), frame.y(d + high)]
      return [{ x, y, width: frame.x(b + wide) - x, height: frame.y(d - high) - y }]
    }),
  )
}

/** One sigma around the chosen point: half axes of their own to each side. */
export function ellipsePoints(page: SpeedMapPage, frame: MapFrame): Point[] {
  const chosen = page.chosen
  if (!chosen) return []
  const [x, y] = [frame.x(chosen.brake_percent), frame.y(chosen.crow_deg)]
  const [left, right] = chosen.brake_range_percent.map((percent) => frame.x(percent) - x) as [number, number]
  const [down, up] = chosen.crow_range_deg.map((deg) => frame.y(deg) - y) as [number, number]
  return Array.from({ length: 73 }, (_, step): Point => {
    const [c, s] = [Math.cos((step * Math.PI) / 36), Math.sin((step * Math.PI) / 36)]
    const at = y + s * (s < 0 ? -up : down)
    return [x + c * (c > 0 ? right : -left), Math.min(Math.max(at, frame.top), frame.bottom)]
  })
}

/** Every steady state at a place of the map, between the points of its grid. */
export function statesAt(page: SpeedMapPage, percent: number, deg: number): MapState[] {
  const [c0, across] = cell(page.brake_percent, percent)
  const [r0, up] = cell(page.crow_deg, deg)
  const corners = [
    { states: page.states[r0]?.[c0] ?? [], share: (1 - up) * (1 - across) },
    { states: page.states[r0]?.[c0 + 1] ?? [], share: (1 - up) * across },
    { states: page.states[r0 + 1]?.[c0] ?? [], share: up * (1 - across) },
    { states: page.states[r0 + 1]?.[c0 + 1] ?? [], share: up * across },
  ].filter((corner) => corner.share > 1e-9)
  const nearest = corners.reduce((a, b) => (b.share > a.share ? b : a)).states
  if (corners.some((corner) => corner.states.length !== nearest.length)) return nearest
  const mean = (of: (state: MapState) => number, k: number): number =>
    corners.reduce((sum, { states, share }) => sum + share * (states[k] ? of(states[k]) : 0), 0)
  return nearest.map((state, k) => ({
    speed_m_s: mean((s) => s.speed_m_s, k),
    shaft_rpm: mean((s) => s.shaft_rpm, k),
    thrust_n: mean((s) => s.thrust_n, k),
    stable: state.stable,
  }))
}

function cell(values: readonly number[], at: number): [number, number] {
  let k = 0
  while (k < values.length - 2 && (values[k + 1] ?? 0) <= at) k++
  const [low, high] = [values[k] ?? 0, values[k + 1] ?? 1]
  return [k, Math.min(Math.max((at - low) / (high - low), 0), 1)]
}

/** Speeds of a point in a few words. */
export function speedWords(states: readonly MapState[]): string {
  const stable = states.filter((state) => state.stable).map((state) => state.speed_m_s.toFixed(1))
  return stable.length === 0 ? 'no steady speed' : `${stable.join(' or ')} m/s`
}

/** The reading under the map. */
export function mapReading(level: string, angle: number, states: readonly MapState[]): string {
  const stable = states.filter((state) => state.stable)
  const head = `Level ${level} with ${degrees(angle)} of crow: `
  if (stable.length === 0) return `${head}no steady speed straight down.`
  const said = stable.length === 1 ? 'one propeller speed' : `${stable.length} propeller speeds, entry speed decides`
  return `${head}${speedWords(states)} straight down; ${said}.`
}
