// The first look round: five steps, each in its place, closed at any time.
import { place, type Question } from '../lib/place.svelte'

const KEY = 'evenfall.shown'

interface Step {
  question: Question
  title: string
  words: string
  /** What it points to: the first of these that is on the page. */
  target: string
}

export const STEPS: readonly Step[] = [
  {
    question: 'plane',
    title: 'The plane as measured',
    words: 'Every number is one you took with ruler, scale or gauge. A guess is marked, with what measuring it would buy.',
    target: '[data-tour="plane"], main h2, main h1',
  },
  {
    question: 'bench',
    title: 'Tune',
    words: 'Tune finds crow, motor brake and arm offset for one steady speed on every line, and writes them to a plan file.',
    target: '[data-tour="tune"], main button.primary, main h1',
  },
  {
    question: 'lines',
    title: 'The speed map',
    words: 'How fast it falls for each crow and motor brake. In the hatched band two propeller speeds are possible: stay out of it.',
    target: '[data-tour="map"], main figure, main h1',
  },
  {
    question: 'bench',
    title: 'The bench',
    words: 'Move the sticks. Surfaces, arms and rods move as the real ones do, with angle and pulse per corner to check against.',
    target: '[data-tour="sticks"], main figure, main h1',
  },
  {
    question: 'sheets',
    title: 'The sheet',
    words: 'Two pages to print: one for the bench with boxes to tick, one for the field with entry heights. Or one file for the phone.',
    target: '[data-tour="sheet"], main .button.primary, main h1',
  },
]

function seen(): boolean {
  try {
    return localStorage.getItem(KEY) !== null
  } catch {
    return true
  }
}

class Tour {
  /** Which step is shown, from 0; null: none. */
  at = $state<number | null>(seen() ? null : 0)

  get step(): Step | null {
    return this.at === null ? null : (STEPS[this.at] ?? null)
  }

  /** Show a step in its place; beyond the last it ends. */
  go(at: number): void {
    const step = STEPS[at]
    if (step === undefined) return this.close()
    this.at = at
    if (place.question !== step.question) place.go(step.question)
  }

  close(): void {
    this.at = null
    try {
      localStorage.setItem(KEY, 'yes')
    } catch {
      // It will be offered again.
    }
  }
}

export const tour = new Tour()
