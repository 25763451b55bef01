// A recorded flight under the hand: sent in, read, its lines trimmed and confirmed.
import { live } from '../../../lib/live.svelte'
import type { LineCutPage, LogPage, OriginalAnswer, RecordedPart } from '../../../lib/generated/pages'
import { held, remember, remembered, type Columns } from './columns'
import { flownOn, needsStick } from './flown'
import { keepRecording, type KeptRecording } from './keptRecording'
import { START, type OnLine } from './onLine'
import { Sending } from './original.svelte'
import { tenth, type Span } from './span'

/** Shortest line that can be marked, s. */
export const SHORTEST_S = 0.5
/** Trims in quick succession are asked about once, ms. */
const PAUSE_MS = 250
/** Length of a line marked by hand, before it is trimmed, s. */
const OWN_S = 5

export interface Cut {
  key: number
  /** As the server sees it; null before it has. */
  seen: LineCutPage | null
  /** Under the hand. */
  span: Span
  confirmed: boolean
  on: OnLine
}

export class Recording {
  readonly sending = new Sending()
  original = $state.raw<OriginalAnswer | null>(null)
  name = $state('')
  page = $state.raw<LogPage | null>(null)
  cuts = $state.raw<Cut[]>([])
  /** What was changed of the columns. */
  columns = $state.raw<Columns>({})
  busy = $state('')
  trouble = $state('')
  /** Which line is open to be trimmed. */
  open = $state<number | null>(null)
  /** The recording as it is around the open line, every place of it; null until it has come. */
  detail = $state.raw<LogPage | null>(null)

  confirmed = $derived(this.cuts.filter((cut) => cut.confirmed))
  /** Confirmed lines whose throttle stick is still to be said, by their numbers. */
  stickless: number[] = $derived(this.cuts.flatMap((cut, place) => (cut.confirmed && needsStick(cut.on) ? [place + 1] : [])))
  begin = $derived(this.page?.time_s[0] ?? 0)
  end = $derived(this.page?.time_s.at(-1) ?? 0)

  #newest = 0
  #keys = 0
  #timer: ReturnType<typeof setTimeout> | undefined

  constructor(readonly plane: () => string) {}

  async choose(file: File): Promise<void> {
    this.forget()
    this.name = file.name
    const original = await this.sending.send(file, file.name)
    if (original === null) return
    if (original.kind === 'wav' || original.kind === 'other') {
      this.trouble = original.words || `${file.name} is no recording of a flight: CSV, GPX and NMEA are read.`
      return
    }
    this.original = original
    this.name = original.name
    if (!(await this.#ask(false))) return
    const before = remembered(this.page?.columns ?? [])
    if (Object.keys(before).length > 0) {
      this.columns = before
      await this.#ask(false)
    }
  }

  /** Go on with a recording that was left. */
  async resume(kept: KeptRecording): Promise<void> {
    this.forget()
    this.original = kept.original
    this.name = kept.original.name
    this.columns = kept.columns
    this.cuts = kept.cuts.map((cut) => ({ ...cut, key: ++this.#keys, seen: null }))
    const read = await this.#ask(this.cuts.length > 0)
    // A file that is not there any more is not offered again.
    if (!read && this.trouble) keepRecording(null)
  }

  /** As it is kept until its lines are added; null before there is anything to lose. */
  kept(): KeptRecording | null {
    if (this.original === null || this.page === null) return null
    const cuts = this.cuts.map(({ span, confirmed, on }) => ({ span, confirmed, on }))
    return { plane: this.plane(), original: this.original, columns: this.columns, cuts }
  }

  forget(): void {
    clearTimeout(this.#timer)
    this.#newest++
    this.sending.stop()
    this.original = this.page = null
    this.cuts = []
    this.columns = {}
    this.name = this.busy = this.trouble = ''
    this.open = this.detail = null
    keepRecording(null)
  }

  /** Open a line to trim it, or close it. */
  show(key: number | null): void {
    this.open = key
    this.detail = null
    void this.#look()
  }

  /** A column holds something else; its lines are looked for anew. */
  async hold(column: string, what: string, unit: string): Promise<void> {
    const before = this.columns
    this.columns = held(before, column, what, unit)
    if (await this.#ask(false)) remember(this.page?.columns ?? [], this.columns)
    else if (this.trouble) this.columns = before
  }

  /** The columns as they were recognised. */
  async asRecognised(): Promise<void> {
    this.columns = {}
    if (await this.#ask(false)) remember(this.page?.columns ?? [], {})
  }

  trim(key: number, span: Span): void {
    this.#set(key, { span: { from: tenth(span.from), to: tenth(span.to) } })
    clearTimeout(this.#timer)
    this.#timer = setTimeout(() => void this.#ask(true).then(() => this.#look()), PAUSE_MS)
  }

  confirm(key: number, confirmed: boolean): void {
    this.#set(key, { confirmed })
  }

  fly(key: number, on: OnLine): void {
    this.#set(key, { on })
  }

  /** A line that was not found by itself, in the middle of the recording or of what is open. */
  mark(): void {
    const near = this.cuts.find((cut) => cut.key === this.open)?.span ?? { from: this.begin, to: this.end }
    const middle = (near.from + near.to) / 2
    const from = tenth(Math.max(middle - OWN_S / 2, this.begin))
    const cut: Cut = {
      key: ++this.#keys,
      seen: null,
      span: { from, to: tenth(Math.min(from + OWN_S, this.end)) },
      confirmed: false,
      on: START,
    }
    this.cuts = [...this.cuts, cut]
    this.show(cut.key)
    void this.#ask(true)
  }

  remove(key: number): void {
    this.cuts = this.cuts.filter((cut) => cut.key !== key)
    if (this.open === key) this.show(null)
  }

  /** What is entered of it: the confirmed lines. */
  part(): RecordedPart | null {
    if (this.original === null || this.page === null || this.confirmed.length === 0 || this.stickless.length > 0) return null
    const line = this.confirmed.map(({ span, on }) => ({ ...on, from_s: span.from, to_s: span.to }))
    return { file: this.original.name, columns: this.columns, line }
  }

  #set(key: number, changes: Partial<Cut>): void {
    this.cuts = this.cuts.map((cut) => (cut.key === key ? { ...cut, ...changes } : cut))
  }

  /** Read the recording: with the lines under the hand, or with those found in it. */
  async #ask(mine: boolean): Promise<boolean> {
    const original = this.original
    if (original === null) return false
    const asked = ++this.#newest
    const sent = this.cuts
    this.busy = 'reading'
    try {
      const page = await live.ask(
        'log',
        {
          plane: this.plane(),
          original: original.hash,
          columns: this.columns,
          cuts: mine ? sent.map(({ span }) => [span.from, span.to] as [number, number]) : [],
        },
        { channel: 'recording', progress: (words) => asked === this.#newest && (this.busy = words) },
      )
      if (page === null || asked !== this.#newest) return false
      this.page = page
      this.trouble = ''
      if (mine) this.#seen(sent, page)
      else this.#found(page)
      return true
    } catch (reason) {
      if (asked === this.#newest) this.trouble = reason instanceof Error ? reason.message : String(reason)
      return false
    } finally {
      if (asked === this.#newest) this.busy = ''
    }
  }

  /** The open line by itself: then every place around it comes, of a long recording only some come with all lines. */
  async #look(): Promise<void> {
    const original = this.original
    const cut = this.cuts.find(({ key }) => key === this.open)
    if (original === null || cut === undefined) return
    const { from, to } = cut.span
    try {
      const page = await live.ask(
        'log',
        { plane: this.plane(), original: original.hash, columns: this.columns, cuts: [[from, to]] },
        { channel: 'recording in detail' },
      )
      if (page !== null && this.open === cut.key) this.detail = page
    } catch {
      // The whole recording is still there to be trimmed in.
    }
  }

  #found(page: LogPage): void {
    this.cuts = page.lines.map((seen) => ({
      key: ++this.#keys,
      seen,
      span: { from: tenth(seen.from_s), to: tenth(seen.to_s) },
      confirmed: false,
      on: flownOn(seen, page),
    }))
    this.show(null)
  }

  /** Answers to lines that were sent: by their times, one that cannot be used is missing. */
  #seen(sent: readonly Cut[], page: LogPage): void {
    const near = (a: number, b: number): boolean => Math.abs(a - b) < 0.051
    const answers = new Map(
      sent.map(({ key, span }) => [key, page.lines.find((line) => near(line.from_s, span.from) && near(line.to_s, span.to)) ?? null]),
    )
    this.cuts = this.cuts.map((cut) => {
      const seen = answers.get(cut.key)
      if (seen === undefined) return cut
      if (seen === null) return { ...cut, seen, confirmed: false }
      return { ...cut, seen, on: cut.seen === null && cut.on === START ? flownOn(seen, page) : cut.on }
    })
  }
}
