// What there is in the audio thread (Web Audio API, AudioWorkletGlobalScope), which TypeScript's library of the browser leaves out.

declare const sampleRate: number;
declare const currentFrame: number;
declare function registerProcessor(name: string, processor: new (options: any) => AudioWorkletProcessor): void;
declare class AudioWorkletProcessor {
  readonly port: MessagePort;
}
