// The clinic's page at which a person lets somebody into their record: oidc-provider, an authorization server by others,
// with its own pages for signing in and agreeing. Only what SMART puts beside a token (`patient`) is added here.
import http from 'node:http';

export async function authorization(load, options, asked) {
    const { default: Provider } = await load('oidc-provider');
    const server = http.createServer((request, response) => handle(request, response));
    let handle = null, dropped = false;
    await new Promise((resolve) => server.listen(0, '127.0.0.1', resolve));
    const issuer = `http://127.0.0.1:${server.address().port}`;
    const scopes = 'offline_access launch/patient patient/Observation.crus patient/Observation.rs patient/Device.crus';
    const client = {
        client_id: options.client, redirect_uris: [options.redirect], application_type: 'native',
        grant_types: ['authorization_code', 'refresh_token'], response_types: ['code'],
        ...(options.jwks
            ? { token_endpoint_auth_method: 'private_key_jwt', token_endpoint_auth_signing_alg: 'ES384', jwks: options.jwks }
            : { token_endpoint_auth_method: 'none' }),
    };
    const provider = new Provider(issuer, {
        clients: [client],
        scopes: scopes.split(' '),
        enabledJWA: { clientAuthSigningAlgValues: ['ES384', 'RS384'] },
        features: { devInteractions: { enabled: true }, revocation: { enabled: true } },
        findAccount: (_, id) => ({ accountId: id, claims: async () => ({ sub: id }) }),
        // OpenID asks for `prompt=consent` beside offline_access, and SMART does not.
        issueRefreshToken: async () => !options.brief,
        rotateRefreshToken: true,
        ttl: { AccessToken: options.lasts ?? 3600, Grant: 86400, Interaction: 3600, RefreshToken: 86400, Session: 86400 },
        extraParams: ['aud'],
        cookies: { keys: ['a key of these tests'] },
    });
    provider.use(async (context, next) => {
        if (context.path === '/auth') asked.launches.push(Object.fromEntries(new URLSearchParams(context.querystring)));
        await next();
        if (context.oidc?.route === 'token') {
            asked.tokens++;
            if (context.status !== 200) return void asked.refused++;
            if (options.patient) context.body.patient = options.patient;
            // What it gives beside a key is what it allows; some allow less than was asked for.
            if (options.allows) context.body.scope = options.allows;
            if (options.drops && context.oidc.params.grant_type === 'refresh_token' && !dropped) {
                dropped = true;
                context.req.socket.destroy();
            }
        }
    });
    const callback = provider.callback();
    handle = (request, response) => {
        if (options.down && request.url.startsWith(options.down)) return request.socket.destroy();
        return callback(request, response);
    };
    return {
        configuration: {
            issuer, authorization_endpoint: `${issuer}/auth`, token_endpoint: `${issuer}/token`,
            ...(options.final ? {} : { revocation_endpoint: `${issuer}/token/revocation` }),
            grant_types_supported: ['authorization_code'], code_challenge_methods_supported: ['S256'],
            capabilities: ['launch-standalone', 'client-public', 'permission-offline', 'permission-patient', 'permission-v2'],
            ...options.says_else,
        },
        /** Whether this is a key to the patient's record that is good now. */
        async allows(field) {
            const token = await provider.AccessToken.find((field ?? '').replace(/^Bearer /, ''));
            return Boolean(token && !token.isExpired && token.scope.includes('patient/Observation.crus'));
        },
        /** The person: opens the address, signs in, and agrees or declines, as a browser does; the address at the end. */
        async person(url, declines) {
            const jar = new Map();
            let answer, body = null;
            for (let n = 0; n < 20; n++) {
                const headers = { cookie: [...jar].map(([name, value]) => `${name}=${value}`).join('; ') };
                if (body) headers['content-type'] = 'application/x-www-form-urlencoded';
                answer = await fetch(url, { redirect: 'manual', method: body ? 'POST' : 'GET', body, headers });
                for (const cookie of answer.headers.getSetCookie()) {
                    const [name, value] = cookie.split(';')[0].split(/=(.*)/s);
                    jar.set(name, value);
                }
                body = null;
                if (answer.status >= 300 && answer.status < 400) {
                    url = new URL(answer.headers.get('location'), url).href;
                    if (url.startsWith(options.redirect)) return url;
                    continue;
                }
                const page = await answer.text();
                const form = page.match(/action="([^"]+)"/);
                if (!form) throw new Error(`${answer.status} ${page.replace(/<style>.*?<\/style>/s, '').slice(0, 600)}`);
                if (declines) {
                    url = page.match(/href="([^"]+abort)"/)[1];
                    continue;
                }
                url = form[1];
                body = page.includes('name="login"') ? 'prompt=login&login=asha&password=any' : 'prompt=consent';
            }
            throw new Error('no end');
        },
    };
}
