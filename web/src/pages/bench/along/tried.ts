// Parts of a plane that may be tried without a change of its file: which of its entries, and what was typed over them.
import type { FieldPage, PlaneView } from '../../../lib/generated/pages'
import { entry, typed } from '../../../lib/ui/number'

const PARTS =
  /^(propeller\.(diameter|pitch)|battery\.(cells|capacity)|mass\.all_up|servo\.aileron\.(torque|supply|speed))(_[A-Za-z0-9_]+)?$/
/** The level the motor brake is held at; left alone, the best one is looked for. */
export const LEVEL = 'controller.present_level'

/** Entries of weight, propeller, battery and servo and the motor brake's level, in the order of the file. */
export function parts(view: PlaneView | null): FieldPage[] {
  const fields = view?.groups.flatMap((group) => group.fields) ?? []
  return fields.filter((field) =>
    field.path === LEVEL ? field.choices.length > 0 : field.kind === 'number' && field.given && PARTS.test(field.path),
  )
}

/** What a field is called away from its group. */
export function named(field: FieldPage): string {
  if (field.path === LEVEL) return 'motor brake, level'
  const table = field.path.split('.')[0] ?? ''
  return table === 'mass' || field.label.includes(table) ? field.label : `${table}, ${field.label}`
}

/** What differs from the file, and the labels of entries that are no numbers. A level chosen is one to hold. */
export function tried(
  fields: FieldPage[],
  texts: Record<string, string>,
): { changes: Record<string, number | string>; wrong: string[] } {
  const changes: Record<string, number | string> = {}
  const wrong: string[] = []
  for (const field of fields) {
    const text = texts[field.path]?.trim() ?? ''
    if (text === '') continue
    const value = typed(text)
    if (field.path === LEVEL) changes[field.path] = typeof field.value === 'number' && value !== null ? value : text
    else if (text === entry(field.value)) continue
    else if (value === null) wrong.push(named(field))
    else if (value !== field.value) changes[field.path] = value
  }
  return { changes, wrong }
}

/** A name for the plane with these parts: its own, shortened where it must be, and what is other. */
export function nameFor(plane: string, fields: FieldPage[], changes: Record<string, number | string>): string {
  const others = fields
    .filter((field) => field.path in changes)
    .map((field) => `${named(field).split(',')[0] ?? ''} ${changes[field.path]}${field.unit === '' ? '' : ` ${field.unit}`}`)
  const end = `, ${others.join(', ')}`
  return `${plane.slice(0, Math.max(LONGEST_NAME - end.length, SHORTEST)).trim()}${end}`.slice(0, LONGEST_NAME)
}
export const LONGEST_NAME = 60
/** Of a plane's own name so much is kept. */
const SHORTEST = 15
