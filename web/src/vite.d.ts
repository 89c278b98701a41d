// Assets that vite gives an address.
declare module '*.wasm?url' {
  const address: string;
  export default address;
}
