import { beforeEach, expect, it, vi } from 'vitest'
import { LIMIT, refusal, Sending } from './original.svelte'

/** What a request would do, played by hand. */
class Request {
  static last: Request
  upload: { onprogress?: (event: { lengthComputable: boolean; loaded: number; total: number }) => void } = {}
  onload?: () => void
  onabort?: () => void
  onerror?: () => void
  status = 0
  responseText = ''
  address = ''
  aborted = false
  constructor() {
    Request.last = this
  }
  open(_: string, address: string): void {
    this.address = address
  }
  send(): void {}
  abort(): void {
    this.aborted = true
    this.onabort?.()
  }
  answer(status: number, text: string): void {
    this.status = status
    this.responseText = text
    this.onload?.()
  }
}

beforeEach(() => void vi.stubGlobal('XMLHttpRequest', Request))

it('sends a file under its name and tells how far it is', async () => {
  const sending = new Sending()
  const answer = sending.send(new Blob(['x']), 'täglich & so.csv')
  expect(Request.last.address).toBe('/original?name=t%C3%A4glich%20%26%20so.csv')
  Request.last.upload.onprogress?.({ lengthComputable: true, loaded: 30, total: 40 })
  expect(sending.share).toBe(0.75)
  Request.last.answer(200, '{"hash": "ab", "name": "t.csv"}')
  expect(await answer).toMatchObject({ hash: 'ab' })
  expect(sending.share).toBeNull()
})

it('says why a file was not taken', async () => {
  const sending = new Sending()
  const answer = sending.send(new Blob(['x']), 'a.csv')
  Request.last.answer(422, '{"words": "This is no record.", "faults": []}')
  expect(await answer).toBeNull()
  expect(sending.trouble).toBe('This is no record.')
  const gone = sending.send(new Blob(['x']), 'a.csv')
  Request.last.onerror?.()
  await gone
  expect(sending.trouble).toContain('still running')
})

it('does not begin with a file that is too long', async () => {
  const sending = new Sending()
  const long = { size: LIMIT + 1 } as Blob
  expect(await sending.send(long, 'long.csv')).toBeNull()
  expect(sending.trouble).toContain('up to 64 MB')
})

it('forgets what was stopped or overtaken', async () => {
  const sending = new Sending()
  const first = sending.send(new Blob(['x']), 'a.csv')
  const old = Request.last
  const second = sending.send(new Blob(['x']), 'b.csv')
  expect(old.aborted).toBe(true)
  expect(await first).toBeNull()
  Request.last.answer(200, '{"hash": "cd"}')
  expect(await second).toMatchObject({ hash: 'cd' })
  expect(sending.trouble).toBe('')
})

it('reads refusals of both kinds', () => {
  expect(refusal('plain words\n')).toBe('plain words')
  expect(refusal('{"other": 1}')).toBe('{"other": 1}')
  expect(refusal('')).not.toBe('')
})
