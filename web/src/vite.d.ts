// Assets that vite gives an address.
declare module '*.wasm?url' {
  const address: string;
  export default address;
}
declare module '*.wasm?inline' {
  const bytes: string;
  export default bytes;
}
// Sources as text, taken in by vite; for tests.
interface ImportMeta {
  glob<T>(patterns: readonly string[], options: {readonly query: '?raw'; readonly import: 'default'; readonly eager: true}): Record<string, T>;
}
