// The map library is a plain script: one global, whose own types are not vendored.
declare const ol: any;
