/**
 * The figure library puts the style of its tile maps into the page, which the service's content security policy
 * does not let in; none is drawn here. An element of its id tells the library that it is there already.
 */
const MAP_STYLE_ID = '9f215cf04c5486422605d13261cb87401f4e7763b6296af81e98efbc0130da53';

if (document.getElementById(MAP_STYLE_ID) === null) {
  const mark = document.createElement('meta');
  mark.id = MAP_STYLE_ID;
  document.head.append(mark);
}
