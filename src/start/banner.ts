/** What a person at the terminal reads once the service runs. Plain text between the log's lines; not in production. */
import type { TryOutToken } from './try-out.ts';

export interface BannerParts {
  readonly url: string;
  /** where the data are */
  readonly data: string;
  readonly movedBecause: string | null;
  readonly tokens: readonly TryOutToken[];
  readonly tokenLifeH: number;
}

export function bannerOf({ url, data, movedBecause, tokens, tokenLifeH }: BannerParts): string {
  const lines = [
    '',
    'Sealtrail is running.',
    '',
    `  Start here   ${url}/`,
    `  Operations   ${url}/docs`,
    `  OpenAPI      ${url}/openapi.json`,
    `  Data         ${data}`,
    ...(movedBecause === null ? [] : [`               kept there because ${movedBecause}`]),
  ];
  if (tokens.length > 0) {
    lines.push(
      '',
      `Tokens for trying out, good for ${tokenLifeH} hours (another one: npm run -s token -- --role operations):`,
    );
    for (const { role, site, token } of tokens) {
      lines.push('', `  ${role}, ${site === null ? 'every site' : `site ${site.toUpperCase()}`}`, `  ${token}`);
    }
  }
  return `${lines.join('\n')}\n\n`;
}
