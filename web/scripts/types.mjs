// Types of the pages from the schema that Python writes (tools/web_schema.py): src/lib/generated/pages.ts.
import { readFile, writeFile } from 'node:fs/promises'
import { compile } from 'json-schema-to-typescript'

/** As the generator wants it: plain references, tuples in the older spelling, lengths left to Python. */
function plain(found) {
  if (Array.isArray(found)) return found.map(plain)
  if (found === null || typeof found !== 'object') return found
  if (found.$ref) return { $ref: found.$ref }
  const made = {}
  for (const [key, value] of Object.entries(found)) {
    if (key === 'prefixItems' || key === 'minItems' || key === 'maxItems') continue
    if (key === 'title' && typeof value === 'string') continue
    made[key] = plain(value)
  }
  if (found.prefixItems) {
    made.items = plain(found.prefixItems)
    made.minItems = found.prefixItems.length
    made.maxItems = found.prefixItems.length
  }
  return made
}

const schema = JSON.parse(await readFile(new URL('../schema.json', import.meta.url), 'utf8'))
const text = await compile(plain(schema), 'Pages', {
  additionalProperties: false,
  bannerComment: '// Made from schema.json by `npm run types`: not edited by hand.',
  style: { singleQuote: true, semi: false, printWidth: 120 },
  unreachableDefinitions: true,
})
await writeFile(
  new URL('../src/lib/generated/pages.ts', import.meta.url),
  text.replace(/\n \*\n \* This interface was referenced by[^\n]*\n \* via the `definition`[^\n]*/g, ''),
)
