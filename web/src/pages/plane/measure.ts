// What each field of the form is on the drawing: the part to light up and, for a length, its dimension line.
import type { PlaneView, ShapePage, SurfacePage } from '../../lib/generated/pages'
import { withUnit } from '../../lib/format'
import type { Dim, Mark, Triple, View } from '../../lib/ui/threeView'

interface Spot {
  shape: ShapePage
  /** Where x and z of the file count from. */
  datum: Triple
  words: string
}

type Ends = readonly [Triple, Triple]

const NONE: Mark = { surfaces: [], solids: [], propeller: false, cg: false, dims: [] }

/** The mark of a group and, where one of its fields is under the hand, of that field. */
export function markOf(view: PlaneView, shape: ShapePage, group: string, path: string | null): Mark {
  const mark = groupMark(view, shape, group)
  if (path === null) return mark
  const field = view.groups.flatMap((one) => one.fields).find((one) => one.path === path)
  if (field === undefined || typeof field.value !== 'number') return mark
  const digits = Number.isInteger(field.value) ? 0 : Math.min(2, String(field.value).split('.')[1]?.length ?? 0)
  const spot: Spot = { shape, datum: datumOf(view, shape), words: withUnit(field.value, field.unit, digits) }
  const key = path.slice(path.lastIndexOf('.') + 1)
  const dims = [...dimsOf(group, key, spot, mark)]
  return { ...mark, dims }
}

function groupMark(view: PlaneView, shape: ShapePage, group: string): Mark {
  const wing = /^wing\.(\w+)(\.aileron)?$/.exec(group)
  if (wing?.[2]) return { ...NONE, surfaces: [`${wing[1]}_left_aileron`, `${wing[1]}_right_aileron`] }
  if (wing) return { ...NONE, surfaces: [`${wing[1]}_*`] }
  if (group === 'tail') return { ...NONE, surfaces: ['tail_*', 'elevator_*'] }
  if (group === 'fin') return { ...NONE, surfaces: ['fin', 'rudder'] }
  if (group === 'body') return { ...NONE, solids: shape.solids.flatMap((one, place) => (one.shape === 'body' ? [place] : [])) }
  if (group.startsWith('drag.')) return { ...NONE, solids: dragSolids(view, shape, group) }
  if (group.startsWith('propeller') || group === 'motor' || group.startsWith('controller'))
    return { ...NONE, propeller: true }
  if (group.startsWith('mass')) return { ...NONE, cg: true }
  const corner = /^linkage\.aileron\.(\w+)$/.exec(group)
  if (corner) return { ...NONE, surfaces: [`${corner[1]}_aileron`] }
  if (group === 'linkage.aileron' || group === 'servo.aileron')
    return { ...NONE, surfaces: shape.surfaces.filter((one) => one.part === 'aileron').map((one) => one.name) }
  return NONE
}

/** Each part's solids follow one another in the shape, as often as the part is there. */
function dragSolids(view: PlaneView, shape: ShapePage, group: string): number[] {
  let place = shape.solids.findIndex((one) => one.shape !== 'body')
  if (place < 0) return []
  for (const one of view.groups) {
    if (one.part !== 'drag') continue
    const held = one.fields.find((field) => field.path.endsWith('.count'))?.value
    const count = typeof held === 'number' ? held : 1
    if (one.key === group) return Array.from({ length: count }, (_, step) => place + step)
    place += count
  }
  return []
}

function datumOf(view: PlaneView, shape: ShapePage): Triple {
  const wanted = view.groups.flatMap((one) => one.fields).find((one) => one.path === 'datum')?.value
  if (wanted !== 'wing') return [0, 0, 0]
  const lead = shape.surfaces.find((one) => one.part === 'wing')?.outline[0]
  return lead === undefined ? [0, 0, 0] : [lead[0], 0, lead[2]]
}

/** The same point on the left side, where there is room below the drawing. */
const leftOf = ([x, y, z]: Triple): Triple => [x, -Math.abs(y), z]
const flat = (view: View, [from, to]: Ends, words: string, off: number): Dim => ({ view, from, to, along: 'width', words, off })
const tall = (view: View, [from, to]: Ends, words: string, off: number): Dim => ({ view, from, to, along: 'height', words, off })

function* dimsOf(group: string, key: string, spot: Spot, mark: Mark): Generator<Dim> {
  const { shape } = spot
  const named = (name: string): SurfacePage | undefined => shape.surfaces.find((one) => one.name === name)
  const wing = /^wing\.(\w+)(\.aileron)?$/.exec(group)
  if (wing?.[2]) yield* aileronDims(key, named(`${wing[1]}_right_aileron`), spot)
  else if (wing) yield* panelDims(key, named(`${wing[1]}_right`), undefined, spot)
  else if (group === 'tail') yield* panelDims(key, named('tail_right') ?? named('elevator_right'), named('elevator_right'), spot)
  else if (group === 'fin') yield* finDims(key, named('fin') ?? named('rudder'), named('rudder'), spot)
  else if (group === 'propeller') yield* propellerDims(key, spot)
  else if (group === 'mass') yield* massDims(key, spot)
  else if (group === 'body' || group.startsWith('drag.')) yield* solidDims(key, mark.solids[0], spot)
}

function* panelDims(key: string, first: SurfacePage | undefined, last: SurfacePage | undefined, spot: Spot): Generator<Dim> {
  const { datum, words } = spot
  const [lead, leadTip] = first?.outline ?? []
  const trail = last === undefined ? first?.outline[first.outline.length - 1] : last.outline[3]
  const trailTip = last === undefined ? first?.outline[2] : last.outline[2]
  if (!lead || !leadTip || !trail || !trailTip) return
  if (key.startsWith('span_')) yield tall('top', [[lead[0], -leadTip[1], 0], leadTip], words, -14)
  if (key.startsWith('root_chord')) yield flat('top', [lead, trail], words, 0)
  if (key.startsWith('tip_chord')) yield flat('top', [leftOf(leadTip), leftOf(trailTip)], words, 12)
  if (key.startsWith('root_le_x')) yield flat('top', [[datum[0], 0, 0], lead], words, 0)
  if (key.startsWith('tip_le_x')) yield flat('top', [leftOf([datum[0], leadTip[1], 0]), leftOf(leadTip)], words, 12)
  if (key.startsWith('z_')) yield tall('side', [[lead[0], 0, datum[2]], lead], words, -12)
  if (key.startsWith('dihedral')) yield tall('behind', [[0, leadTip[1], lead[2]], leadTip], words, 8)
  const hinge = last?.hinge
  if (key.startsWith('elevator_chord') && hinge) yield flat('top', [leftOf(hinge[1]), leftOf(trailTip)], words, 12)
}

function* aileronDims(key: string, aileron: SurfacePage | undefined, spot: Spot): Generator<Dim> {
  const [inner, outer, trailOuter, trailInner] = aileron?.outline ?? []
  if (!inner || !outer || !trailOuter || !trailInner) return
  if (key.startsWith('inner_y')) yield tall('top', [[trailInner[0], 0, 0], trailInner], spot.words, 14)
  if (key.startsWith('outer_y')) yield tall('top', [[trailOuter[0], 0, 0], trailOuter], spot.words, 14)
  if (key.startsWith('inner_chord')) yield flat('top', [inner, trailInner], spot.words, 6)
  if (key.startsWith('outer_chord')) yield flat('top', [leftOf(outer), leftOf(trailOuter)], spot.words, 12)
}

function* finDims(key: string, first: SurfacePage | undefined, last: SurfacePage | undefined, spot: Spot): Generator<Dim> {
  const { datum, words } = spot
  const [lead, leadTip] = first?.outline ?? []
  const [, , trailTip, trail] = (last ?? first)?.outline ?? []
  if (!lead || !leadTip || !trail || !trailTip) return
  if (key.startsWith('height')) yield tall('side', [lead, leadTip], words, -14)
  if (key.startsWith('root_chord')) yield flat('side', [lead, trail], words, 8)
  if (key.startsWith('tip_chord')) yield flat('side', [leadTip, trailTip], words, -8)
  if (key.startsWith('root_le_x')) yield flat('side', [[datum[0], 0, lead[2]], lead], words, 8)
  if (key.startsWith('tip_le_x')) yield flat('side', [[datum[0], 0, leadTip[2]], leadTip], words, -8)
  if (key.startsWith('root_z')) yield tall('side', [[lead[0], 0, datum[2]], lead], words, -14)
  const hinge = last?.hinge
  if (key.startsWith('rudder_chord') && hinge) yield flat('side', [hinge[1], trailTip], words, -8)
}

function* propellerDims(key: string, { shape, datum, words }: Spot): Generator<Dim> {
  const half = shape.propeller_mm / 2
  if (key.startsWith('diameter')) yield tall('behind', [[0, half, -half], [0, half, half]], words, 10)
  if (key.startsWith('x_')) yield flat('side', [datum, [0, 0, 0]], words, 10)
  if (key.startsWith('z_')) yield tall('side', [datum, [0, 0, 0]], words, 10)
}

function* massDims(key: string, { shape, datum, words }: Spot): Generator<Dim> {
  const [x, y, z] = shape.cg
  if (key.startsWith('cg_x')) yield flat('side', [[datum[0], 0, z], [x, 0, z]], words, 16)
  if (key.startsWith('cg_z')) yield tall('side', [[x, 0, datum[2]], [x, 0, z]], words, 16)
  if (key.startsWith('cg_y')) yield flat('behind', [[0, 0, z], [0, y, z]], words, 16)
}

function* solidDims(key: string, place: number | undefined, { shape, datum, words }: Spot): Generator<Dim> {
  const solid = place === undefined ? undefined : shape.solids[place]
  if (solid === undefined) return
  const [[x, y, z], [long, wide, high]] = [solid.at, solid.size]
  const along: Ends = [[x - long / 2, 0, z - high / 2], [x + long / 2, 0, z - high / 2]]
  const across: Ends = [[0, y - wide / 2, z - high / 2], [0, y + wide / 2, z - high / 2]]
  const upright: Ends = [[x, 0, z - high / 2], [x, 0, z + high / 2]]
  if (key.startsWith('x_')) yield flat('side', [[datum[0], 0, z], [x, 0, z]], words, 0)
  else if (key.startsWith('nose_x')) yield flat('side', [[datum[0], 0, z], [x - long / 2, 0, z]], words, 14)
  else if (key.startsWith('z_')) yield tall('side', [[x, 0, datum[2]], [x, 0, z]], words, 12)
  else if (solid.shape === 'body') {
    if (key.startsWith('length')) yield flat('side', along, words, 8)
    if (key.startsWith('width')) yield flat('behind', across, words, 8)
    if (key.startsWith('height')) yield tall('behind', [[0, wide / 2, z - high / 2], [0, wide / 2, z + high / 2]], words, 10)
  } else if (key.startsWith('diameter') && solid.shape === 'wheel') yield flat('side', along, words, 8)
  else if (key.startsWith('width')) yield flat('behind', across, words, 8)
  else if (key.startsWith('height') || (key.startsWith('length') && high >= wide)) yield tall('side', upright, words, 10)
  else if (key.startsWith('length')) yield flat('behind', across, words, 8)
}
