// The sound of a video, taken out of it in the page: the video itself is not sent.
import { mixed, wavFile } from './wav'

/** Enough for a propeller's note and its multiples, samples a second. */
const RATE = 22050
/** Most that is opened at once, bytes: all of it must fit into memory. */
const MOST = 600e6

/** True for a file that is a video or compressed sound rather than a WAV. */
export function needsDecoding(file: { name: string; type: string }): boolean {
  if (/\.wave?$/i.test(file.name)) return false
  return /^(video|audio)\//.test(file.type) || /\.(mp4|mov|m4v|webm|mkv|m4a|aac|mp3|ogg|opus|flac|3gp)$/i.test(file.name)
}

/** One channel as WAV; throws words for what the browser cannot open. */
export async function decoded(file: File): Promise<{ wav: Blob; name: string }> {
  if (file.size > MOST) throw new Error(`${file.name} has ${(file.size / 1e6).toFixed(0)} MB; up to ${MOST / 1e6} MB can be opened here. Cut it to the flight first.`)
  const context = new OfflineAudioContext(1, 1, RATE)
  let sound: AudioBuffer
  try {
    sound = await context.decodeAudioData(await file.arrayBuffer())
  } catch {
    throw new Error(`The browser finds no sound it can open in ${file.name}. Save its sound as WAV and choose that.`)
  }
  const channels = Array.from({ length: sound.numberOfChannels }, (_, k) => sound.getChannelData(k))
  return { wav: wavFile(mixed(channels), sound.sampleRate), name: `${file.name.replace(/\.[^.]*$/, '')}.wav` }
}
