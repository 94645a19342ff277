/** A number with what it is of: `1 dance`, `2 dances`. @param noun one of them; its plural ends in s */
export function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? '' : 's'}`;
}
