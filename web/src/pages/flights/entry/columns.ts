// What the columns of a recording hold, remembered for the next file with the same columns.
import type { ColumnPage } from '../../../lib/generated/pages'

const KEY = 'evenfall.columns'
const MOST = 20

export type Columns = Record<string, string>

/** Files with the same columns in the same order have the same one. */
export function signature(columns: readonly ColumnPage[]): string {
  return JSON.stringify(columns.map((column) => column.name))
}

function kept(): [string, Columns][] {
  try {
    const found: unknown = JSON.parse(localStorage.getItem(KEY) ?? '[]')
    return Array.isArray(found) ? found.filter(isKept) : []
  } catch {
    return []
  }
}

function isKept(item: unknown): item is [string, Columns] {
  if (!Array.isArray(item) || typeof item[0] !== 'string' || typeof item[1] !== 'object' || item[1] === null) return false
  return Object.values(item[1] as object).every((value) => typeof value === 'string')
}

/** What was said of such columns before; nothing where they are as recognised. */
export function remembered(columns: readonly ColumnPage[]): Columns {
  const mine = signature(columns)
  return kept().find(([key]) => key === mine)?.[1] ?? {}
}

/** Keep what was changed by hand; with nothing changed, forget what was. */
export function remember(columns: readonly ColumnPage[], changed: Columns): void {
  const mine = signature(columns)
  const others = kept().filter(([key]) => key !== mine)
  const all: [string, Columns][] = Object.keys(changed).length > 0 ? [[mine, changed], ...others] : others
  try {
    localStorage.setItem(KEY, JSON.stringify(all.slice(0, MOST)))
  } catch {
    // Not kept: it is asked again next time.
  }
}

/** What a column that is not read holds. */
export const NOTHING = 'nothing'

/** The choices parted: what a column may hold, and the units each may come in. */
export function parted(choices: readonly string[]): { holds: string[]; units: (held: string) => string[] } {
  const holds = choices.filter((choice) => choice !== '' && !choice.includes(' '))
  const units = (held: string): string[] =>
    choices.filter((choice) => choice.startsWith(`${held} `)).map((choice) => choice.slice(held.length + 1))
  return { holds, units }
}

/** A column holds something else; another that was said to hold the same by hand gives it up. */
export function held(changed: Columns, column: string, what: string, unit: string): Columns {
  const others = Object.entries(changed).filter(([, value]) => what === NOTHING || value.split(' ')[0] !== what)
  return { ...Object.fromEntries(others), [column]: unit && what !== NOTHING ? `${what} ${unit}` : what }
}
