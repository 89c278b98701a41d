// Assets that vite gives an address.
declare module '*.wasm?url' {
  const address: string;
  export default address;
}
declare module '*.wasm?inline' {
  const bytes: string;
  export default bytes;
}
