// The plane's surfaces and parts as solids with their drawn edges. Drawing frame in (x aft, y right, z up), scene out
// (right, up, back), all in mm.
import { BufferGeometry, Float32BufferAttribute, Vector3 } from 'three'
import type { SolidPage, SurfacePage } from '../generated/pages'

export type Triple = [number, number, number]

/** What is drawn of one part: its skin, its edges and, where it moves, its hatch; lines as pairs of points. */
export interface Drawn {
  skin: BufferGeometry
  edges: Vector3[]
  hatch: Vector3[]
}

const CHORD_STEPS = 14
const EPS = 1e-3
const HATCH_MM = 17

export function toScene(point: Triple): Vector3 {
  return new Vector3(point[1], point[2], point[0])
}

/** Collects triangles of smooth strips and of flat faces. */
class Skin {
  #points: number[] = []
  #index: number[] = []

  point(at: Vector3): number {
    this.#points.push(at.x, at.y, at.z)
    return this.#points.length / 3 - 1
  }

  /** A grid of points, rows of equal length, its outside away from `inside`. */
  grid(rows: Vector3[][], inside: Vector3): void {
    const places = rows.map((row) => row.map((at) => this.point(at)))
    const [first, second] = [rows[Math.floor((rows.length - 1) / 2)] ?? [], rows[Math.floor((rows.length - 1) / 2) + 1] ?? []]
    const middle = Math.floor((first.length - 1) / 2)
    const [p, q, r] = [first[middle], first[middle + 1], second[middle + 1]]
    if (!p || !q || !r) return
    const out = new Vector3().crossVectors(q.clone().sub(p), r.clone().sub(p))
    const flip = out.dot(p.clone().add(r).multiplyScalar(0.5).sub(inside)) < 0
    for (let i = 0; i + 1 < places.length; i++) {
      const here = places[i] ?? []
      const next = places[i + 1] ?? []
      for (let j = 0; j + 1 < here.length; j++) {
        const [a, b, c, d] = [here[j] ?? 0, here[j + 1] ?? 0, next[j + 1] ?? 0, next[j] ?? 0]
        if (flip) this.#index.push(a, c, b, a, d, c)
        else this.#index.push(a, b, c, a, c, d)
      }
    }
  }

  make(): BufferGeometry {
    const geometry = new BufferGeometry()
    geometry.setAttribute('position', new Float32BufferAttribute(this.#points, 3))
    geometry.setIndex(this.#index)
    geometry.computeVertexNormals()
    return geometry
  }
}

/** One strip of a surface between two stations along its span: the front and the back line at each. */
interface Strip {
  s: [number, number]
  front: [Vector3, Vector3]
  back: [Vector3, Vector3]
}

const stands = (surface: SurfacePage): boolean => surface.part === 'fin' || surface.part === 'rudder'

function strips(surface: SurfacePage): Strip[] {
  const outline = surface.outline.map((point) => ({
    s: stands(surface) ? point[2] : Math.abs(point[1]),
    at: toScene(point),
  }))
  const stations = [...new Set(outline.map((point) => Math.round(point.s * 100) / 100))].sort((a, b) => a - b)
  const found: Strip[] = []
  for (let i = 0; i + 1 < stations.length; i++) {
    const low = stations[i] ?? 0
    const high = stations[i + 1] ?? 0
    if (high - low < 0.5) continue
    const lines: [Vector3, Vector3][] = []
    outline.forEach((from, place) => {
      const to = outline[(place + 1) % outline.length]
      if (!to || Math.min(from.s, to.s) > low + 0.02 || Math.max(from.s, to.s) < high - 0.02) return
      const at = (s: number): Vector3 => from.at.clone().lerp(to.at, (s - from.s) / (to.s - from.s))
      lines.push([at(low), at(high)])
    })
    lines.sort((a, b) => a[0].z + a[1].z - b[0].z - b[1].z)
    const front = lines[0]
    const back = lines[lines.length - 1]
    if (front && back && lines.length > 1) found.push({ s: [low, high], front, back })
  }
  return found
}

/** Thickness of a NACA four-digit section over its greatest, at a share of the chord (NACA report 460, 1933). */
function section(x: number): number {
  const share = Math.min(Math.max(x, 0), 1)
  const half = 0.2969 * Math.sqrt(share) - 0.126 * share - 0.3516 * share ** 2 + 0.2843 * share ** 3 - 0.1036 * share ** 4
  return 10 * half
}

/** Half thickness, mm, at a share of the strip's own chord at one of its ends. */
type Thick = (strip: Strip, end: 0 | 1, share: number) => number

function thickness(surface: SurfacePage, all: Strip[]): Thick {
  const chordOf = (strip: Strip, end: 0 | 1): number => strip.back[end].z - strip.front[end].z
  const first = all[0]
  const last = all[all.length - 1]
  const root = first ? chordOf(first, 0) : 1
  const half = 0.5 * surface.thickness_mm
  if (surface.part === 'wing' && first && last) {
    const tip = Math.max(...surface.outline.filter((point) => Math.abs(Math.abs(point[1]) - last.s[1]) < 0.05).map((point) => point[0]))
    const rootEnd = first.back[0].z
    const plate = surface.thickness_mm < 0.045 * root
    return (strip, end, share) => {
      const along = (strip.s[end] - first.s[0]) / Math.max(last.s[1] - first.s[0], EPS)
      const full = rootEnd + (tip - rootEnd) * along - strip.front[end].z
      const x = (share * chordOf(strip, end)) / Math.max(full, EPS)
      const size = plate ? half * Math.min(1, 25 * x, 12 * (1 - x)) : half * (full / root) * section(x)
      return Math.max(size, 0.15)
    }
  }
  if (surface.part === 'tail' || surface.part === 'fin') {
    return (strip, end, share) => {
      const rise = share < 0.5 ? Math.sqrt(Math.max(1 - (1 - 2 * share) ** 2, 0)) : 1
      return Math.max(half * (chordOf(strip, end) / root) * rise, 0.15)
    }
  }
  return (strip, end, share) => {
    const nose = share < 0.08 ? 0.55 + 0.45 * (share / 0.08) : 1
    return Math.max(half * (chordOf(strip, end) / root) * (1 - share) * nose, 0.35)
  }
}

function normalOf(surface: SurfacePage): Vector3 {
  const normal = new Vector3()
  const points = surface.outline.map(toScene)
  points.forEach((a, place) => {
    const b = points[(place + 1) % points.length]
    if (b) normal.add(new Vector3().crossVectors(a, b))
  })
  normal.normalize()
  const wanted = stands(surface) ? normal.x : normal.y
  return wanted < 0 ? normal.negate() : normal
}

const shares = Array.from({ length: CHORD_STEPS + 1 }, (_, i) => 0.5 - 0.5 * Math.cos((Math.PI * i) / CHORD_STEPS))

/** A wing, tail or fin panel or a hinged surface as a solid. */
export function surfaceSolid(surface: SurfacePage): Drawn {
  const all = strips(surface)
  const thick = thickness(surface, all)
  const normal = normalOf(surface)
  const skin = new Skin()
  const edges: Vector3[] = []
  const hatch: Vector3[] = []
  const at = (strip: Strip, end: 0 | 1, share: number, side: number): Vector3 =>
    strip.front[end].clone().lerp(strip.back[end], share).addScaledVector(normal, side * thick(strip, end, share))
  const profile = (strip: Strip, end: 0 | 1, from: number, to: number): void => {
    for (const side of [1, -1]) {
      for (let i = 0; i < CHORD_STEPS; i++) {
        const [a, b] = [i, i + 1].map((step) => from + (to - from) * (shares[step] ?? 0))
        edges.push(at(strip, end, a ?? 0, side), at(strip, end, b ?? 1, side))
      }
    }
  }
  all.forEach((strip, place) => {
    const inside = middleOf(strip)
    for (const side of [1, -1]) {
      skin.grid(([0, 1] as const).map((end) => shares.map((share) => at(strip, end, share, side))), inside)
    }
    const blunt = thick(strip, 0, 1) > 0.6
    const face = ([0, 1] as const).map((end) => [at(strip, end, 1, 1), at(strip, end, 1, -1)])
    skin.grid(face, inside)
    for (const side of blunt ? [1, -1] : [1]) edges.push(at(strip, 0, 1, side), at(strip, 1, 1, side))
    const before = all[place - 1]
    const inner = strip.s[0]
    if (before === undefined) {
      cap(skin, strip, 0, at)
      if (inner > 1 || stands(surface)) profile(strip, 0, 0, 1)
    } else {
      step(before, strip, profile)
      if (before.back[1].distanceTo(strip.back[0]) > 1) {
        cap(skin, strip, 0, at)
        cap(skin, before, 1, at)
      }
    }
    if (place === all.length - 1) {
      cap(skin, strip, 1, at)
      profile(strip, 1, 0, 1)
    }
    if (surface.hinge) hatch.push(...hatched(strip, at))
  })
  return { skin: skin.make(), edges, hatch }
}

function cap(
  skin: Skin,
  strip: Strip,
  end: 0 | 1,
  at: (strip: Strip, end: 0 | 1, share: number, side: number) => Vector3,
): void {
  skin.grid(
    [1, -1].map((side) => shares.map((share) => at(strip, end, share, side))),
    middleOf(strip),
  )
}

function middleOf(strip: Strip): Vector3 {
  return [...strip.front, ...strip.back].reduce((sum, at) => sum.add(at), new Vector3()).multiplyScalar(0.25)
}

/** The side of a cut-out: where the chord jumps from one strip to the next. */
function step(before: Strip, after: Strip, profile: (strip: Strip, end: 0 | 1, from: number, to: number) => void): void {
  const chord = (strip: Strip, end: 0 | 1): number => strip.back[end].z - strip.front[end].z
  const [a, b] = [chord(before, 1), chord(after, 0)]
  if (a - b > 1) profile(before, 1, b / a, 1)
  else if (b - a > 1) profile(after, 0, a / b, 1)
}

function hatched(strip: Strip, at: (strip: Strip, end: 0 | 1, share: number, side: number) => Vector3): Vector3[] {
  const length = strip.s[1] - strip.s[0]
  const chord = strip.back[0].distanceTo(strip.front[0])
  const lines: Vector3[] = []
  const on = (along: number, share: number, side: number): Vector3 =>
    at(strip, 0, share, side).lerp(at(strip, 1, share, side), along)
  for (let start = -chord; start < length; start += HATCH_MM) {
    const from = Math.max(0, -start / chord)
    const to = Math.min(1, (length - start) / chord)
    if (to - from < 0.02) continue
    for (const side of [1.06, -1.06]) {
      const count = 3
      for (let i = 0; i < count; i++) {
        const [a, b] = [i, i + 1].map((k) => Math.max(from + ((to - from) * k) / count, 0.02))
        lines.push(on((start + (a ?? 0) * chord) / length, a ?? 0, side), on((start + (b ?? 1) * chord) / length, b ?? 1, side))
      }
    }
  }
  return lines
}

/** Share of the length, of the greatest width and of the greatest height along a body: the file holds only its box. */
const BODY: [number, number, number][] = [
  [0, 0.5, 0.5],
  [0.015, 0.64, 0.62],
  [0.05, 0.8, 0.74],
  [0.13, 0.95, 0.86],
  [0.25, 1, 0.95],
  [0.36, 1, 1],
  [0.48, 0.9, 0.95],
  [0.62, 0.68, 0.78],
  [0.8, 0.4, 0.52],
  [0.95, 0.18, 0.34],
  [1, 0.12, 0.3],
]

/** A body as a row of rounded sections. */
export function bodySolid(solid: SolidPage): Drawn {
  const skin = new Skin()
  const edges: Vector3[] = []
  const around = 28
  const [length, width, height] = solid.size
  const ring = ([along, wide, high]: [number, number, number]): Vector3[] =>
    Array.from({ length: around + 1 }, (_, i) => {
      const angle = (2 * Math.PI * i) / around
      const [c, s] = [Math.cos(angle), Math.sin(angle)]
      const power = 2 / 2.7
      return toScene([
        solid.at[0] + (along - 0.5) * length,
        solid.at[1] + 0.5 * width * wide * Math.sign(c) * Math.abs(c) ** power,
        solid.at[2] + 0.5 * height * high * Math.sign(s) * Math.abs(s) ** power,
      ])
    })
  const rings = BODY.map(ring)
  const inside = toScene(solid.at)
  skin.grid(rings, inside)
  for (const place of [0, rings.length - 1]) {
    const edge = rings[place] ?? []
    const centre = edge.reduce((sum, at) => sum.add(at), new Vector3()).divideScalar(edge.length)
    skin.grid([edge, edge.map(() => centre)], inside)
  }
  for (const place of [0, 3, rings.length - 1]) {
    const edge = rings[place] ?? []
    for (let i = 0; i + 1 < edge.length; i++) edges.push(edge[i] ?? new Vector3(), edge[i + 1] ?? new Vector3())
  }
  return { skin: skin.make(), edges, hatch: [] }
}

/** A wheel on its axle across the plane. */
export function wheelSolid(solid: SolidPage): Drawn {
  const skin = new Skin()
  const edges: Vector3[] = []
  const radius = 0.5 * solid.size[0]
  const half = 0.5 * solid.size[1]
  const around = 36
  const ring = (size: number, y: number): Vector3[] =>
    Array.from({ length: around + 1 }, (_, i) => {
      const angle = (2 * Math.PI * i) / around
      return toScene([solid.at[0] + size * Math.cos(angle), solid.at[1] + y, solid.at[2] + size * Math.sin(angle)])
    })
  const rows = [ring(0, -half), ring(0.8 * radius, -half), ring(radius, -0.5 * half), ring(radius, 0.5 * half), ring(0.8 * radius, half), ring(0, half)]
  skin.grid(rows, toScene(solid.at))
  for (const row of [ring(0.55 * radius, half), ring(0.55 * radius, -half), ring(0.16 * radius, half), ring(0.16 * radius, -half)]) {
    for (let i = 0; i + 1 < row.length; i++) edges.push(row[i] ?? new Vector3(), row[i + 1] ?? new Vector3())
  }
  return { skin: skin.make(), edges, hatch: [] }
}

/** A strut, wire or plate as a box. */
export function boxSolid(solid: SolidPage): Drawn {
  const skin = new Skin()
  const edges: Vector3[] = []
  const size = solid.size.map((value) => Math.max(0.5 * value, 0.4))
  const corner = (i: number, j: number, k: number): Vector3 =>
    toScene([solid.at[0] + i * (size[0] ?? 0), solid.at[1] + j * (size[1] ?? 0), solid.at[2] + k * (size[2] ?? 0)])
  const inside = toScene(solid.at)
  for (const sign of [1, -1]) {
    skin.grid([[corner(sign, -1, -1), corner(sign, 1, -1)], [corner(sign, -1, 1), corner(sign, 1, 1)]], inside)
    skin.grid([[corner(-1, sign, -1), corner(-1, sign, 1)], [corner(1, sign, -1), corner(1, sign, 1)]], inside)
    skin.grid([[corner(-1, -1, sign), corner(1, -1, sign)], [corner(-1, 1, sign), corner(1, 1, sign)]], inside)
  }
  for (const i of [-1, 1]) {
    for (const j of [-1, 1]) {
      edges.push(corner(i, j, -1), corner(i, j, 1), corner(i, -1, j), corner(i, 1, j), corner(-1, i, j), corner(1, i, j))
    }
  }
  return { skin: skin.make(), edges, hatch: [] }
}

/** Blades and the circle of a propeller in the plane x = 0. */
export function propellerLines(diameter: number, blades: number): { edges: Vector3[]; circle: Vector3[] } {
  const radius = 0.5 * diameter
  const half = [0.12, 0.5, 0.75, 0.8, 0.7, 0.45, 0.1].map((share) => 0.09 * radius * share)
  const edges: Vector3[] = []
  const circle: Vector3[] = []
  for (let blade = 0; blade < blades; blade++) {
    const turn = (2 * Math.PI * blade) / blades + 0.35
    const out = (share: number, across: number): Vector3 => {
      const [y, z] = [across, share * radius]
      return toScene([0, y * Math.cos(turn) - z * Math.sin(turn), y * Math.sin(turn) + z * Math.cos(turn)])
    }
    const rim: Vector3[] = []
    half.forEach((size, i) => rim.push(out(i / (half.length - 1), size)))
    half.slice().reverse().forEach((size, i) => rim.push(out(1 - i / (half.length - 1), -size)))
    rim.forEach((at, i) => edges.push(at, rim[(i + 1) % rim.length] ?? at))
  }
  const around = 96
  for (let i = 0; i < around; i++) {
    for (const step of [i, i + 1]) {
      const angle = (2 * Math.PI * step) / around
      circle.push(toScene([0, radius * Math.cos(angle), radius * Math.sin(angle)]))
    }
  }
  return { edges, circle }
}
