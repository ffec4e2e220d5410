// The rules of rules.json by the npm package fhirpath: one resource a line on standard input, the keys of the rules that
// it breaks as a JSON list a line on standard output. Called with the folder that holds node_modules.
import { createRequire } from 'node:module';
import { readFileSync } from 'node:fs';
import { createInterface } from 'node:readline';

const require = createRequire(process.argv[2] + '/');
const fhirpath = require('fhirpath');
const r4 = require('fhirpath/fhir-context/r4');
const file = JSON.parse(readFileSync(new URL('./rules.json', import.meta.url)));
const rules = file.rules.map(({ key, applies, expr }) => ({
    key,
    applies: fhirpath.compile(applies, r4),
    expr: fhirpath.compile(expr, r4),
}));
const holds = result => result.length === 1 && result[0] === true;

for await (const line of createInterface({ input: process.stdin })) {
    const resource = JSON.parse(line);
    const broken = [];
    for (const { key, applies, expr } of rules) {
        try {
            if (holds(applies(resource)) && !holds(expr(resource))) broken.push(key);
        } catch {
            broken.push(key);  // what cannot be evaluated does not hold
        }
    }
    console.log(JSON.stringify(broken));
}
