// Paper of the printed sheet and the programme on it: the last choice is kept; the air it is computed for, in words.
import { withUnit } from '../../lib/format'
import type { AirAsk } from '../../lib/generated/pages'

export const PAPERS = [
  { key: 'a4', words: 'A4' },
  { key: 'letter', words: 'Letter' },
] as const
export type Paper = (typeof PAPERS)[number]['key']

const PAPER = 'evenfall.paper'
const PROGRAMME = 'evenfall.paper.programme'

export function keptPaper(): Paper {
  return kept(PAPER) === 'letter' ? 'letter' : 'a4'
}

export function keepPaper(paper: Paper): void {
  keep(PAPER, paper)
}

/** File of the programme last printed; empty where none was. */
export function keptProgramme(): string {
  return kept(PROGRAMME)
}

export function keepProgramme(file: string): void {
  keep(PROGRAMME, file)
}

/** What air was chosen; what was left out is standard. */
export function airWords(air: AirAsk): string {
  const named = [
    air.elevation_m ? `a field at ${withUnit(air.elevation_m, 'm', 0)}` : '',
    typeof air.temperature_c === 'number' ? withUnit(air.temperature_c, '°C') : '',
    typeof air.pressure_hpa === 'number' ? withUnit(air.pressure_hpa, 'hPa', 0) : '',
  ].filter((words) => words !== '')
  return named.length > 0 ? named.join(', ') : 'standard air at sea level'
}

function kept(key: string): string {
  try {
    return localStorage.getItem(key) ?? ''
  } catch {
    return ''
  }
}

function keep(key: string, value: string): void {
  try {
    localStorage.setItem(key, value)
  } catch {
    // Asked again next time.
  }
}

/**
 * The address for a paper; whatever the server named as paper is replaced. With `as` it is a new address whenever that
 * changes: a browser does not fetch a picture again that it shows already.
 */
export function addressed(address: string, paper: Paper, as = ''): string {
  const [path, query] = address.split('?')
  const asked = new URLSearchParams(query ?? '')
  asked.set('paper', paper)
  if (as !== '') asked.set('as', as)
  return `${path}?${asked.toString()}`
}
