// What our pages use of lit-html; the library's own declarations are not shipped with its one-file build.
export interface TemplateResult {}
export const nothing: unique symbol;
export function html(strings: TemplateStringsArray, ...values: unknown[]): TemplateResult;
export function svg(strings: TemplateStringsArray, ...values: unknown[]): TemplateResult;
export function render(value: unknown, container: HTMLElement | DocumentFragment): unknown;
