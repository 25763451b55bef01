// A file sent to the record: with progress, to be stopped, refused in words.
import type { OriginalAnswer } from '../../../lib/generated/pages'

/** Most the server takes, bytes. */
export const LIMIT = 64e6

export class Sending {
  /** Share sent, 0 to 1; null where nothing is on its way. */
  share = $state<number | null>(null)
  /** Why it was not taken; empty where it was. */
  trouble = $state('')
  #request: XMLHttpRequest | null = null

  /** Send a file under a name; null where it was refused or stopped. */
  async send(file: Blob, name: string): Promise<OriginalAnswer | null> {
    this.stop()
    this.trouble = ''
    if (file.size > LIMIT) {
      this.trouble = `${name} has ${(file.size / 1e6).toFixed(0)} MB; up to ${LIMIT / 1e6} MB are taken. Cut it to the flight first.`
      return null
    }
    this.share = 0
    const request = (this.#request = new XMLHttpRequest())
    const ended = new Promise<boolean>((resolve) => {
      request.upload.onprogress = (event) => {
        if (event.lengthComputable && this.#request === request) this.share = event.loaded / Math.max(event.total, 1)
      }
      request.onload = () => resolve(true)
      request.onabort = request.onerror = () => resolve(false)
    })
    request.open('POST', `/original?name=${encodeURIComponent(name)}`)
    request.send(file)
    const answered = await ended
    if (this.#request !== request) return null
    this.#request = null
    this.share = null
    if (!answered) this.trouble = 'Evenfall did not take the file. Is it still running?'
    else if (request.status !== 200) this.trouble = refusal(request.responseText)
    else return JSON.parse(request.responseText) as OriginalAnswer
    return null
  }

  /** Send no more of it. */
  stop(): void {
    const request = this.#request
    this.#request = null
    this.share = null
    request?.abort()
  }
}

/** The words of a refusal: JSON with `words`, or plain text. */
export function refusal(text: string): string {
  try {
    const said = JSON.parse(text) as { words?: unknown }
    if (typeof said.words === 'string') return said.words
  } catch {
    // Plain text, then.
  }
  return text.trim() || 'Evenfall did not take the file.'
}
