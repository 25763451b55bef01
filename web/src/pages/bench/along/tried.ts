// Parts of a plane that may be tried without a change of its file: which of its entries, and what was typed over them.
import type { FieldPage, PlaneView } from '../../../lib/generated/pages'
import { entry, typed } from '../../../lib/ui/number'

const PARTS = /^(propeller\.(diameter|pitch)|battery\.(cells|capacity)|mass\.all_up)(_[a-z0-9]+)?$/

/** Entries of propeller, battery and weight, in the order of the file. */
export function parts(view: PlaneView | null): FieldPage[] {
  const fields = view?.groups.flatMap((group) => group.fields) ?? []
  return fields.filter((field) => field.kind === 'number' && field.given && PARTS.test(field.path))
}

/** What a field is called away from its group. */
export function named(field: FieldPage): string {
  const table = field.path.split('.')[0] ?? ''
  return table === 'mass' || field.label.includes(table) ? field.label : `${table}, ${field.label}`
}

/** What differs from the file, and the labels of entries that are no numbers. */
export function tried(fields: FieldPage[], texts: Record<string, string>): { changes: Record<string, number>; wrong: string[] } {
  const changes: Record<string, number> = {}
  const wrong: string[] = []
  for (const field of fields) {
    const text = texts[field.path]
    if (text === undefined || text.trim() === '' || text.trim() === entry(field.value)) continue
    const value = typed(text)
    if (value === null) wrong.push(named(field))
    else if (value !== field.value) changes[field.path] = value
  }
  return { changes, wrong }
}
