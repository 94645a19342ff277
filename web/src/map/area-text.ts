/** An area for people to read: two figures where it is small, whole hectares else. */
export const areaText = (areaHa: number) => `${areaHa < 10 ? areaHa.toPrecision(2) : Math.round(areaHa)} ha`;
