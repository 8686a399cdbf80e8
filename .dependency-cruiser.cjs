/** The arrows of the house: main → app → features → platform, and features → domain. */
const FEATURES = {
  identity: [],
  catalogue: ['identity'],
  ledger: ['identity', 'catalogue'],
  'process-checks': ['identity', 'catalogue', 'ledger'],
  temperature: ['identity', 'catalogue', 'ledger'],
  'shelf-life': ['identity', 'catalogue', 'ledger', 'process-checks', 'temperature'],
  'goods-in': ['identity', 'catalogue', 'ledger', 'shelf-life'],
  production: ['identity', 'catalogue', 'ledger', 'process-checks', 'shelf-life'],
  distribution: ['identity', 'catalogue', 'ledger', 'shelf-life', 'temperature'],
  scanning: ['identity', 'catalogue', 'ledger', 'goods-in', 'production', 'distribution', 'labels'],
  labels: ['identity', 'catalogue', 'ledger', 'production', 'distribution', 'shelf-life'],
  tracing: ['identity', 'catalogue', 'ledger'],
  recall: ['identity', 'catalogue', 'ledger', 'production', 'distribution', 'tracing', 'temperature'],
  reporting: ['identity', 'catalogue', 'ledger', 'production', 'shelf-life'],
  exchange: [
    'identity',
    'catalogue',
    'ledger',
    'process-checks',
    'temperature',
    'shelf-life',
    'goods-in',
    'production',
    'distribution',
    'scanning',
    'labels',
    'tracing',
    'recall',
    'reporting',
  ],
};

const featureRules = Object.entries(FEATURES).flatMap(([feature, allowed]) => [
  {
    name: `${feature}-imports`,
    severity: 'error',
    from: { path: `^src/features/${feature}/` },
    to: { path: '^src/features/', pathNot: `^src/features/(${[feature, ...allowed].join('|')})/` },
  },
  {
    name: `${feature}-door`,
    comment: 'other features are entered by their index.ts only',
    severity: 'error',
    from: { path: `^src/features/${feature}/` },
    to: { path: '^src/features/(?!' + feature + '/)[^/]+/(?!index\\.ts$)' },
  },
]);

module.exports = {
  forbidden: [
    { name: 'no-circular', severity: 'error', from: {}, to: { circular: true } },
    {
      name: 'domain-is-pure',
      severity: 'error',
      from: { path: '^src/domain' },
      to: { pathNot: '^(src/domain|shared/|node_modules/(luxon|fraction\\.js|@types/luxon))' },
    },
    {
      name: 'platform-knows-no-food',
      severity: 'error',
      from: { path: '^src/platform' },
      to: { path: '^src/(features|domain)', pathNot: '^src/domain/errors' },
    },
    { name: 'nobody-imports-main', severity: 'error', from: { path: '^src' }, to: { path: '^src/main\\.ts$' } },
    {
      name: 'only-app-and-main-above-features',
      severity: 'error',
      from: { path: '^src/(platform|domain|features)' },
      to: { path: '^src/(app|main|config)\\.ts$' },
    },
    {
      name: 'features-by-their-door',
      severity: 'error',
      from: { path: '^src/(app|main)' },
      to: { path: '^src/features/[^/]+/(?!index\\.ts$)' },
    },
    {
      name: 'no-dev-deps-in-src',
      severity: 'error',
      from: { path: '^src' },
      to: { dependencyTypes: ['npm-dev'], dependencyTypesNot: ['type-only'], pathNot: 'node_modules/@types' },
    },
    ...featureRules,
  ],
  options: {
    doNotFollow: { path: 'node_modules' },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: 'tsconfig.json' },
    enhancedResolveOptions: {
      exportsFields: ['exports'],
      conditionNames: ['import', 'require', 'node', 'default', 'types'],
    },
  },
};
