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

/** The address for a paper; whatever the server named as paper is replaced. */
export function addressed(address: string, paper: Paper): string {
  const [path, query] = address.split('?')
  const asked = new URLSearchParams(query ?? '')
  asked.set('paper', paper)
  return `${path}?${asked.toString()}`
}
