// Paper of the printed sheet: the last choice is kept.
export const PAPERS = [
  { key: 'a4', words: 'A4' },
  { key: 'letter', words: 'Letter' },
] as const
export type Paper = (typeof PAPERS)[number]['key']

const KEY = 'evenfall.paper'

export function keptPaper(): Paper {
  try {
    return localStorage.getItem(KEY) === 'letter' ? 'letter' : 'a4'
  } catch {
    return 'a4'
  }
}

export function keepPaper(paper: Paper): void {
  try {
    localStorage.setItem(KEY, paper)
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
