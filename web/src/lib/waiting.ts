// Actions that are not answered yet, kept over a reload of the page.
import type { Action } from './contract'

const KEY = 'evenfall.waiting'

export interface Waiting {
  /** Under which the server carries it out once, however often it is sent. */
  token: string
  action: Action
  /** When it was made, ms. */
  since: number
}

function isWaiting(found: unknown): found is Waiting {
  if (typeof found !== 'object' || found === null) return false
  const item = found as Partial<Record<keyof Waiting, unknown>>
  return typeof item.token === 'string' && typeof item.action === 'object' && item.action !== null
}

export function keptWaiting(): Waiting[] {
  try {
    const found: unknown = JSON.parse(sessionStorage.getItem(KEY) ?? '[]')
    return Array.isArray(found) ? found.filter(isWaiting) : []
  } catch {
    return []
  }
}

export function keepWaiting(waiting: Waiting[]): void {
  try {
    sessionStorage.setItem(KEY, JSON.stringify(waiting))
  } catch {
    // Private windows may refuse; the actions are still in memory.
  }
}

export function forgetWaiting(): void {
  try {
    sessionStorage.removeItem(KEY)
  } catch {
    // Nothing was kept either.
  }
}

/** 32 hexadecimal digits; made without what browsers keep for secure addresses: the local network has none. */
export function newToken(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16))
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('')
}
